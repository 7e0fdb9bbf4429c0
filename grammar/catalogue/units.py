"""Units: unknown ones, and quantities that do not go together."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    counts    input   int 0..65535
    level     memory  real cm 0..100
    volume    memory  real L 0..500
    valve     output  bool
"""


def _rung(*lines: str) -> Sample:
    return Sample({"sample.rung": _HEAD + "\nrung sample\n" + "".join(f"    {line}\n" for line in lines)})


def _tag(line: str) -> Sample:
    return Sample({"sample.rung": _HEAD + f"    {line}\n"})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "unknown-unit",
        "error",
        "`{unit}` is no unit that is known here.",
        (
            _rung("volume > 50 litres", "=> valve"),
            _tag("width memory real furlong 0..1"),
            _tag("width memory real wug 0..1"),
        ),
        expected="a unit such as mm, cm, L, L/min, ms, s, min, h, V, mA, bar, %, or a product or quotient of such",
    ),
    Entry(
        "unit-mismatch",
        "error",
        "This is {found}, but {beside}.",
        (
            _rung("volume > 50 cm", "=> valve"),
            _rung("=> volume := level"),
            _rung("=> volume := scale(level, 0..65535, 0 L..500 L)"),
            _rung("counts > 5 L", "=> valve"),
            _rung("=> level := counts"),
        ),
    ),
    Entry(
        "unit-missing",
        "error",
        "This number has no unit, but {beside}.",
        (
            _rung("volume > 50", "=> valve"),
            _rung("=> volume := max(0, volume)"),
            _rung("=> volume := 0"),
        ),
        mend="write the unit behind it, `{unit}` if that is meant",
    ),
    Entry(
        "tag-unit-mismatch",
        "error",
        "`{name}` is kept in {unit}, and this is in {found}.",
        (_tag("depth memory real cm 0..100 L"), _tag("depth memory real 0 cm..100 cm")),
        expected="the unit straight after the type, as in `real cm 0..100`; bare numbers on the line are then in it",
    ),
    Entry(
        "root-of-unit",
        "error",
        "There is no square root of {unit}.",
        (_rung("=> level := sqrt(volume)"),),
        expected="a plain number, or a unit whose powers are even, as cm2",
    ),
)
