"""Syntax of stages: delays, pulses, counters."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample


def _rung(*lines: str) -> Sample:
    return Sample({"sample.rung": "rung sample\n" + "".join(f"    {line}\n" for line in lines)})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "stage-hyphen",
        "error",
        "The stages are written with a hyphen: on-delay, off-delay, count-up, count-down.",
        (_rung("start_pb", "on delay 5 s as hold", "=> running"), _rung("a", "countup 5 as n clear by b", "=> c")),
        mend="put the hyphen in",
    ),
    Entry(
        "stage-inside",
        "error",
        "A stage is a line of its own, and `{found}` stands inside one.",
        (_rung("start_pb and on-delay 5 s as hold", "=> running"), _rung("(a or on-delay 5 s as b)", "=> c")),
        mend="put the stage on the next line; where only one branch needs it, "
        "give that branch a rung of its own and use the stage's name as a contact here",
    ),
    Entry(
        "stage-bare",
        "error",
        "{figure} of what? A time stands with its unit, and a stage has a name, so that others can read it.",
        (_rung("start_pb", "on-delay 5", "=> running"), _rung("start_pb", "pulse 200", "=> running")),
        mend="write `{found} {figure} s as NAME` or `{found} {figure} ms as NAME`",
    ),
    Entry(
        "stage-without-name",
        "error",
        "A stage has a name, so that others can read it.",
        (_rung("start_pb", "on-delay 5 s", "=> running"),),
        mend="write `{caret} as NAME`",
    ),
    Entry(
        "stage-without-preset",
        "error",
        "How long, or how many? `{found}` needs its preset.",
        (_rung("start_pb", "on-delay as hold", "=> running"), _rung("a", "count-up as n clear by b", "=> c")),
        mend="put it before `as`: a time for a delay or a pulse, a whole number for a counter",
    ),
    Entry(
        "stage-without-clearing",
        "error",
        "This stage keeps what it has gathered, so it must say what clears it.",
        (_rung("start_pb", "count-up 5 as starts", "=> running"), _rung("a", "count-down 5 as left", "=> c")),
        expected="`clear by TAG` after the name, for count-down `load by TAG`",
        mend="write `... as NAME clear by TAG` (count-down: `load by TAG`)",
    ),
)
