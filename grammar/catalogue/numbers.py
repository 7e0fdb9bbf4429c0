"""Numbers that no engine could hold."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    number    memory  int 0..9000000000000000
    wide      memory  real 0..1e200
"""


def _rung(*lines: str) -> Sample:
    return Sample({"sample.rung": _HEAD + "\nrung sample\n" + "".join(f"    {line}\n" for line in lines)})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "number-too-large",
        "error",
        "{what} beyond {limit}, further than numbers are kept exactly here.",
        (
            _rung("=> number := number * 2"),
            _rung("=> wide := wide * wide"),
            _rung("=> wide := 1e301"),
        ),
        mend="narrow the ranges of the tags it is made from, or limit a step of it with `min` and `max`",
    ),
)
