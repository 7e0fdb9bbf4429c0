"""Files, encoding, indentation, blocks and their headers."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample


def _sample(text: str) -> Sample:
    return Sample({"sample.rung": text})


_RUNG = "rung sample\n    start_pb\n    => running\n"

ENTRIES: tuple[Entry, ...] = (
    # ------------------------------------------------------------------- files
    Entry(
        "file-missing",
        "error",
        "There is no file `{name}`.",
        (Sample({"sample.rung": 'use "absent.rung"\n'}),),
    ),
    Entry(
        "file-is-folder",
        "error",
        "`{name}` is a folder, and a file was to be read.",
        (Sample({"sample.rung": 'use "parts"\n', "parts/inner.rung": _RUNG}),),
        mend="name one of the `.rung` files inside",
    ),
    Entry(
        "file-unreadable",
        "error",
        "The file `{name}` cannot be read: {reason}.",
        (_sample(f'use "{"x" * 300}.rung"\n'),),
        mend="see that the file exists and that you may read it",
    ),
    Entry(
        "file-binary",
        "error",
        "The file `{name}` is no text: it holds zero bytes.",
        (_sample("rung sample\x00\n"),),
        expected="a plain text in UTF-8",
        mend="see whether the right file was named",
    ),
    Entry(
        "file-encoding",
        "error",
        "{what}.",
        (_sample("\udcff\udcfe"), _sample('rung sample "\udce4"\n')),
        expected="a plain text in UTF-8",
        mend="save the file as UTF-8 in your editor",
    ),
    Entry(
        "file-empty",
        "error",
        "The file holds no block.",
        (_sample(""), _sample("# nothing yet\n")),
        expected="at least one block, such as `rung NAME` with indented lines below it",
    ),
    Entry(
        "line-too-long",
        "error",
        "The line has {length} characters, and no line may have more than {limit}.",
        (_sample("rung sample\n    " + "a" * 20_001 + "\n    => running\n"),),
        mend="break it into several lines, or take the table out into several tables",
    ),
    Entry(
        "hidden-character",
        "error",
        "A character that cannot be seen stands here: {code_point}.",
        (_sample("rung sample\n    start\u200b_pb\n    => running\n"), _sample("rung sample\n    a\x07\n    => b\n")),
        expected="characters that everyone who reads the file can see",
        mend="delete it, and type the line anew if need be",
    ),
    Entry(
        "too-many-mistakes",
        "error",
        "There are {limit} mistakes above this line; the rest of the file was not read.",
        (_sample("rung sample\n" + "    a b\n" * 301),),
        mend="mend those first",
    ),
    # ------------------------------------------------------------- indentation
    Entry(
        "tab-indentation",
        "warning",
        "A tab stands at the beginning of a line; it counts as the way to the next fourth column.",
        (_sample("rung sample\n\tstart_pb\n\t=> running\n"),),
        expected="blanks: four for a line inside a block",
        mend="run `rungproof format`, which puts blanks in the place of tabs",
    ),
    Entry(
        "uneven-indentation",
        "warning",
        "This line stands {here} columns in, where its neighbours stand {usual} in.",
        (
            _sample("rung sample\n    start_pb\n      stop_ok\n    => running\n"),
            _sample('circuit "Pump" from P24\n    rung a\n    S1\n    => K1\n'),
        ),
        expected="one depth for the lines of a block; depth means nothing in this language but inside and outside",
        mend="run `rungproof format`, or move the line",
    ),
    Entry(
        "not-indented",
        "error",
        "This line belongs inside the block `{word}`, and stands at the left edge.",
        (_sample("rung sample\nstart_pb\n    => running\n"), _sample("rung sample\n    start_pb\n=> running\n")),
        mend="put four blanks before it",
    ),
    Entry(
        "header-indented",
        "error",
        "A block begins at the left edge, and this `{word}` stands further in.",
        (_sample("rung a\n    x\n    => y\n    rung b\n    x\n    => z\n"),),
        mend="take the blanks before it away",
    ),
    Entry(
        "line-outside-block",
        "error",
        "An indented line stands before the first block.",
        (_sample("    start_pb\n    => running\n" + _RUNG),),
        expected="a line at the left edge that opens a block, such as `rung NAME`",
        mend="put `rung NAME` above it, or move it into the block it belongs to",
    ),
    Entry(
        "line-outside-rung",
        "error",
        "A line of this circuit stands before its first rung.",
        (_sample('circuit "Pump" from P24\n    S1\n    => K1\n'),),
        expected="an indented `rung NAME`, and below it, further in, the rung's lines",
        mend="put `rung NAME` above it",
    ),
    Entry(
        "lines-not-allowed",
        "error",
        "`{word}` is one line; nothing stands indented below it.",
        (_sample('controller "Pump" every 20 ms\n    running memory bool\n'),),
        mend="put these lines into a block of their own, such as `tags` or `rung NAME`",
    ),
    # ------------------------------------------------------------------ blocks
    Entry(
        "unknown-block-word",
        "error",
        "No block begins with `{found}`.",
        (_sample("rungs sample\n    start_pb\n    => running\n"), _sample("Rung a\n    x\n    => y\n")),
        mend="write `{better}`",
    ),
    Entry(
        "unknown-block",
        "error",
        "No block begins like this.",
        (_sample("network 1\n    start_pb\n    => running\n"), _sample("=> running\n")),
        expected="use, controller, tags, rung, plant, circuit, wiring, hazard, requirement, assume or scenario; "
        "lines inside a block are indented",
    ),
    Entry(
        "empty-block",
        "error",
        "The block `{word}` has no lines.",
        (_sample("tags\n"), _sample('assume "Nothing"\n'), _sample('circuit "Pump" from P24\n')),
        expected="indented lines below it, such as `{example}`",
    ),
    Entry(
        "colon-after-header",
        "error",
        "No colon stands after a block's first line.",
        (_sample("tags:\n    running memory bool\n"),),
        mend="take the colon away: the indentation alone says what belongs to the block",
    ),
    Entry(
        "sentence-missing",
        "error",
        "After `{found}` its sentence is missing: the words that people sign.",
        (_sample("requirement R1\n    never pump\n"), _sample("scenario\n    at 0 s press S1\n")),
        expected='a sentence in quotes, such as `"The pump stays off"`',
        mend="write the sentence, in quotes",
    ),
    Entry(
        "identifier-missing",
        "error",
        "A {word} has a short name before its sentence, so that others can refer to it.",
        (_sample('requirement "The pump stays off"\n    never pump\n'), _sample('rung "Run"\n    a\n    => b\n')),
        mend="put a short name before the quotes, such as `R1` for a requirement or `run` for a rung",
    ),
    Entry(
        "name-unquoted",
        "error",
        "What follows `{word}` stands in quotes.",
        (_sample("controller pump every 20 ms\n"), _sample("requirement R1 The pump stays off\n    never a\n")),
        mend='put it in quotes: `"{found}"`',
    ),
    Entry(
        "blank-in-name",
        "error",
        "A name is one word, and `{found}` is two.",
        (_sample("rung pump run\n    start_pb\n    => running\n"),),
        mend="write `{first}_{second}`, or put a remark in quotes after the name",
    ),
)
