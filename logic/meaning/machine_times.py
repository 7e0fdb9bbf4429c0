"""Times as written on a plant's or a scenario's line, in whole milliseconds."""

from __future__ import annotations

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.expressions import literal_in
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.units import known_unit

_MILLISECOND = known_unit("ms")

#: No plant and no story lasts longer (ms): a year, at ten ms a scan three thousand million scans.
LONGEST = 366 * 24 * 3_600_000


def whole_ms(number: tree.Expression, reporter: Reporter, *, least: int = 0) -> int | None:
    """The time in ms. None after reporting one that is no time, or no whole number of ms, or too short or too long.

    A number without unit has been reported where the line was read.
    """
    if isinstance(number, tree.Number) and number.unit is None:
        return None
    context = Context(Scope({}), reporter, Slots(""))
    value = literal_in(number, context, _MILLISECOND, "a time stands here")
    if value is None:
        return None
    if value.denominator != 1:
        reporter.report("time-not-whole", number.span)
        return None
    if value < least:
        reporter.report("time-too-short", number.span, least=least)
        return None
    if value > LONGEST:
        reporter.report("time-too-long", number.span)
        return None
    return int(value)
