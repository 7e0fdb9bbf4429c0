"""Unique-cause pairs of a decision: two rows of conditions that differ in one and in the outcome.

A decision is covered by modified condition/decision coverage where for every condition both
rows of one of its pairs have been seen: then that condition alone is shown to decide the outcome
(NASA/TM-2001-210876, a tutorial; RTCA DO-178C gives the definition). A condition that stands
in a decision twice is one condition.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import product

#: One value per condition, in the order in which they stand.
Row = tuple[bool, ...]
#: The two rows of a pair: the condition off, the condition on.
Pair = tuple[Row, Row]
Outcome = Callable[[Row], bool]

#: Decisions with more conditions get one pair for each, made by `canonical`; all rows would be too many.
MOST_CONDITIONS = 12


def unique_cause_pairs(outcome: Outcome, conditions: int) -> tuple[tuple[Pair, ...], ...]:
    """For each condition its pairs, in rising order. None where it never decides by itself."""
    return tuple(tuple(_pairs_of(outcome, conditions, place)) for place in range(conditions))


def _pairs_of(outcome: Outcome, conditions: int, place: int) -> Iterable[Pair]:
    for rest in product((False, True), repeat=conditions - 1):
        off, on = with_value(rest, place, False), with_value(rest, place, True)
        if outcome(off) != outcome(on):
            yield off, on


def with_value(rest: Row, place: int, value: bool) -> Row:
    """`rest`, the other conditions, with `value` put in at `place`."""
    return (*rest[:place], value, *rest[place:])


def rows_of(pairs: Iterable[tuple[Pair, ...]]) -> tuple[Row, ...]:
    """Every row that stands in some pair, once, in rising order."""
    return tuple(sorted({row for each in pairs for pair in each for row in pair}))


def shown(pairs: Iterable[Pair], seen: Iterable[Row]) -> Pair | None:
    """The first pair both of whose rows were seen; None if there is none."""
    found = frozenset(seen)
    return next((pair for pair in pairs if pair[0] in found and pair[1] in found), None)


def row_text(row: Row) -> str:
    """`010`, in the order of the conditions."""
    return "".join("1" if value else "0" for value in row)


def row_words(names: Iterable[str], row: Row) -> str:
    """`start_pb on, rested off`."""
    return ", ".join(f"{name} {'on' if value else 'off'}" for name, value in zip(names, row, strict=True))


def as_given(names: Iterable[str], row: Row) -> Mapping[str, bool]:
    return dict(zip(names, row, strict=True))
