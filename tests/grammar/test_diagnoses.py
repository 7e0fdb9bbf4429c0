"""Every diagnosis of the parser: its samples trigger it, alone, at a place, in plain words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from rungproof.grammar import CATALOGUE, Diagnosis, Entry, Reporter, Sample, parse_text, read_file, render, tree
from rungproof.grammar.catalogue import layout, lines, paths
from rungproof.grammar.hint_table import HINTS, LAST_HINTS

ENTRIES: tuple[Entry, ...] = (*layout.ENTRIES, *paths.ENTRIES, *lines.ENTRIES)
SAMPLES = [
    pytest.param(entry, sample, id=f"{entry.code}-{number}")
    for entry in ENTRIES
    for number, sample in enumerate(entry.samples)
]
GRAMMAR = Path(layout.__file__).parents[1]


def _diagnose(sample: Sample, folder: Path) -> tuple[Diagnosis, ...]:
    """What reading the sample's first file, and the files it uses, finds."""
    for name, text in sample.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(text.encode("utf-8", "surrogateescape"))
    reporter = Reporter(dict(CATALOGUE))
    first = next(iter(sample.files))
    source = read_file(folder / first, first, reporter)
    for block in source.blocks if source else ():
        if isinstance(block, tree.Use):
            read_file(folder / block.file, block.file, reporter)
    return reporter.sorted()


@pytest.mark.parametrize(("entry", "sample"), SAMPLES)
def test_a_sample_triggers_its_diagnosis_and_no_other(entry: Entry, sample: Sample, tmp_path: Path) -> None:
    """One mistake, one answer: no follow-on noise."""
    found = _diagnose(sample, tmp_path)
    codes = {diagnosis.code for diagnosis in found}
    assert entry.code in codes
    if entry.code != "too-many-mistakes":
        assert codes == {entry.code}
        assert len(found) == len({diagnosis.span for diagnosis in found})


@pytest.mark.parametrize(("entry", "sample"), SAMPLES)
def test_a_message_is_plain_and_points_into_the_file(entry: Entry, sample: Sample, tmp_path: Path) -> None:
    """No word of the parser's own, no unfilled template, a caret on the line."""
    for diagnosis in _diagnose(sample, tmp_path):
        said = " ".join(filter(None, (diagnosis.message, diagnosis.expected, diagnosis.mend)))
        assert not re.search(r"Token\(|\$END|__|[A-Z]{4,}_|\bNone\b", said)
        assert not re.search(r"\{[a-z]+\}", said)
        assert "``" not in said, said
        assert diagnosis.message.endswith((".", "?")) and not diagnosis.message.endswith("..")
        text = sample.files.get(diagnosis.span.file, "")
        known = text.split("\n")
        assert 1 <= diagnosis.span.line <= len(known)
        line = known[diagnosis.span.line - 1]
        assert 1 <= diagnosis.span.column < diagnosis.span.end_column
        assert diagnosis.span.end_column <= max(len(line), 1) + 2
        assert render(diagnosis, {diagnosis.span.file: known})


def test_every_code_that_the_package_reports_is_in_the_catalogue() -> None:
    """A code that is not in the table would be a KeyError in front of a user."""
    reported = {
        code
        for file in GRAMMAR.glob("*.py")
        for code in re.findall(r"""report\(\s*(?:parser, )?"([a-z-]+)\"""", file.read_text(encoding="utf-8"))
    }
    hinted = {hint.code for hint in (*HINTS, *LAST_HINTS)}
    assert len(reported) > 25
    assert reported | hinted <= set(CATALOGUE)


def test_the_syntax_modules_hold_no_entry_without_a_sample() -> None:
    """Fifty diagnoses and more of files and lines alone, each with something that triggers it."""
    assert len(ENTRIES) >= 50
    assert [entry.code for entry in ENTRIES if not entry.samples] == []


MISTAKES = """\
controller "Pump" every 20
tags
    start_pb   input  bool   Start push-button
    running    memory bool   retained "x" retained
    lamp       ouput bool
rung run
    start_pb AND running
    on delay 5 s
    not (start_pb or lamp)
    => running = 3
rung two "x
    => a, b
    start_pb
requirment R1 "The pump"
    wenever a then b
    never pump and
scenario "s"
    at 5 min pres S1
    expect running in 3 s
"""


def test_independent_mistakes_come_out_in_one_go() -> None:
    """Each line's mistake is found, sorted by place, and each line has one."""
    reporter = Reporter(dict(CATALOGUE))
    parse_text(MISTAKES, "m.rung", reporter)
    assert [(diagnosis.span.line, diagnosis.code) for diagnosis in reporter.sorted()] == [
        (1, "time-without-unit"),
        (3, "remark-unquoted"),
        (4, "said-twice"),
        (5, "misspelt-word"),
        (7, "capital-word"),
        (8, "stage-hyphen"),
        (9, "not-of-group"),
        (10, "equals-for-assign"),
        (11, "unclosed-quote"),
        (12, "several-outputs"),
        (14, "unknown-block-word"),
        (15, "misspelt-word"),
        (16, "unexpected-end"),
        (18, "misspelt-word"),
        (19, "unexpected"),
    ]


def test_a_broken_line_loses_only_itself() -> None:
    """The rest of its block is in the tree, and the names on the lost line are known as unread."""
    reporter = Reporter(dict(CATALOGUE))
    source = parse_text("rung r\n    a\n    b && c.d\n    e\n    => f\n", "x.rung", reporter)
    (rung,) = source.blocks
    assert isinstance(rung, tree.Rung)
    assert [str(element.span.line) for element in rung.elements] == ["2", "4"]
    assert source.unread_names == {"b", "c.d"}


@pytest.mark.parametrize(
    ("line", "mend"),
    [
        ("not (a or b)", "write `not a`, then `not b`, each on its own line, which means the same"),
        ("not (a and not b)", "write `not a or b`, which means the same"),
        ("c or not (a or b)", "write `(not a and not b)`, which means the same"),
        ("not (x < 3 cm)", "write `x >= 3 cm`, which means the same"),
        ("not (x between 1 and 2)", "write `x < 1 or x > 2`, which means the same"),
        ("not not a", "write `a`, which means the same"),
    ],
)
def test_the_series_form_is_worked_out(line: str, mend: str) -> None:
    """`not` before a group is answered with the contacts that mean the same."""
    reporter = Reporter(dict(CATALOGUE))
    parse_text(f"rung r\n    {line}\n    => out\n", "x.rung", reporter)
    (diagnosis,) = reporter.sorted()
    assert (diagnosis.code, diagnosis.mend) == ("not-of-group", mend)


@pytest.mark.parametrize(
    ("line", "code", "mend"),
    [
        ("start_pb && b", "logic-symbol", "write `and`"),
        ("on-dealy 5 s as x", "misspelt-word", "write `on-delay`"),
        ("x beetwen 1 and 2", "misspelt-word", "write `between`"),
        ("x := 3", "assign-without-arrow", "write `=> x :=`"),
        ("set x", "missing-arrow", "write `=> set x`"),
        ("on-delay 0,5 s as x", "decimal-comma", "write `0.5`"),
        ("on-delay ms 500 as x", "unit-first", "write `500 ms`"),
        ("on-delay 5 s", "stage-without-name", "write `on-delay 5 s as NAME`"),
    ],
)
def test_the_mend_is_what_to_write(line: str, code: str, mend: str) -> None:
    """Where the mend is sure, it can be typed as it stands."""
    reporter = Reporter(dict(CATALOGUE))
    parse_text(f"rung r\n    {line}\n    => out\n", "x.rung", reporter)
    (diagnosis,) = reporter.sorted()
    assert (diagnosis.code, diagnosis.mend) == (code, mend)


def test_an_output_without_its_arrow_is_guessed() -> None:
    """The last line of a rung that drives nothing may be what it was to drive; a comparison never is."""
    for last, guessed in (("running", True), ("level < 3 cm", False), ("not running", False)):
        reporter = Reporter(dict(CATALOGUE))
        parse_text(f"rung r\n    start_pb\n    {last}\n", "r.rung", reporter)
        (found,) = reporter.sorted()
        assert found.code == "rung-without-output"
        assert ("write `=> running`, if" in (found.mend or "")) is guessed
