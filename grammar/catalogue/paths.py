"""Line-level syntax: in rungs, tags, parts, wiring, requirements and scenarios."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample


def _sample(text: str) -> Sample:
    return Sample({"sample.rung": text})


def _rung(*lines: str) -> Sample:
    return _sample("rung sample\n" + "".join(f"    {line}\n" for line in lines))


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "unexpected",
        "error",
        "{found} does not fit here.",
        (_rung("start_pb running", "=> running"),),
        expected="{expected}",
    ),
    Entry(
        "dotted-name",
        "error",
        "A new name has no dot: `{name}`.",
        (_rung("start_pb", "on-delay 5 s as start.hold", "=> running"),),
        expected="letters, digits and underscores; a dot reads inside of a part or a stage, as in `float_hold.elapsed`",
        mend="write `{plain}`",
    ),
    Entry(
        "time-without-unit",
        "error",
        "{figure} of what? A time stands with its unit.",
        (_rung("start_pb", "on-delay 5 as hold", "=> running"),),
        expected="a number and a unit of time: ms, s, min or h",
        mend="write `{figure} s` if seconds are meant",
    ),
    Entry(
        "count-with-unit",
        "error",
        "A count is a whole number without unit, and here stands `{figure} {unit}`.",
        (_rung("start_pb", "count-up 5 s as starts clear by reset_pb", "=> running"),),
        mend="write `{figure}`",
    ),
    Entry(
        "said-twice",
        "error",
        "This is said twice: {what}.",
        (_sample("tags\n    running memory bool retained retained\n"),),
        mend="keep one of the two",
    ),
    Entry(
        "condition-after-output",
        "error",
        "A condition stands below an output.",
        (_rung("start_pb", "=> running", "stop_ok", "=> lamp"),),
        expected="all conditions and stages of a rung first, its outputs (`=> ...`) last",
        mend="move this line above the first output, or begin a new rung; "
        "a single output has its own contacts with `=> tag when contact`",
    ),
    Entry(
        "rung-without-output",
        "error",
        "Rung `{name}` drives nothing.",
        (_rung("start_pb"),),
        expected="at least one output line, `=> tag`, or a stage whose name other rungs read",
        mend="add a line such as `=> running`",
    ),
    Entry(
        "requirement-without-form",
        "error",
        "Requirement `{name}` has its sentence, but no line that a machine can check.",
        (_sample('requirement R1 "The pump stays off"\n    with outputs free\n'),),
        expected="one line that begins with never, always, whenever, after, at most, or reads `A before B`",
        mend="add a line such as `never pump_enable and not float_ok`",
    ),
    Entry(
        "two-forms",
        "error",
        "A requirement says one thing, and this one says two.",
        (_sample('requirement R1 "The pump stays off"\n    never pump\n    always float_ok\n'),),
        mend="give the second line a requirement of its own, with its own sentence",
    ),
    Entry(
        "scope-after-form",
        "error",
        "A scope line stands above the form, not below it.",
        (_sample('requirement R1 "The pump stays off"\n    never pump\n    with outputs free\n'),),
        mend="move this line up, straight below the requirement's sentence",
    ),
)
