"""What a path asks for, as a formula, and whether anything can fulfil it.

A contact asks for one value of one variable; a comparison asks that a number lie on one
side of a constant. `can_hold` tries the values that matter, one variable at a time, and
gives up (None) rather than take long.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from rungproof.logic.meaning.ranges import Bounds, Number

Operator = Literal["<", "<=", ">", ">=", "=", "<>"]

#: How many partial assignments are tried before giving up: 12 contacts' truth table.
_PATIENCE = 4096
_MOST_VARIABLES = 100


@dataclass(frozen=True, slots=True)
class Is:
    """Variable `key` (a contact) is `value`."""

    key: Hashable
    value: bool


@dataclass(frozen=True, slots=True)
class Lies:
    """Number `key`, within `bounds`, stands so to `limit`; `whole` numbers have no between."""

    key: Hashable
    operator: Operator
    limit: Number
    bounds: Bounds
    whole: bool


@dataclass(frozen=True, slots=True)
class All:
    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Any:
    parts: tuple[Formula, ...]


Formula = Is | Lies | All | Any

ALWAYS = All(())
NEVER = Any(())

_OPPOSITE: dict[Operator, Operator] = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>", "<>": "="}


def opposite(formula: Formula) -> Formula:
    """The formula that holds where this one does not."""
    match formula:
        case Is():
            return Is(formula.key, not formula.value)
        case Lies():
            operator = _OPPOSITE[formula.operator]
            return Lies(formula.key, operator, formula.limit, formula.bounds, formula.whole)
        case All():
            return Any(tuple(opposite(part) for part in formula.parts))
        case Any():
            return All(tuple(opposite(part) for part in formula.parts))


def can_hold(formula: Formula) -> bool | None:
    """Whether some values of the variables make it true; None where that took too long to say."""
    chosen: dict[Hashable, Number] = {}
    open_parts: list[Formula] = []
    # What stands alone in series is forced: most paths are settled by this alone.
    for part in _in_series(formula):
        if not isinstance(part, Is):
            open_parts.append(part)
        elif chosen.setdefault(part.key, part.value) != part.value:
            return False
    rest = All(tuple(part for part in open_parts if _value(part, chosen) is not True))
    candidates = _candidates(rest)
    if len(candidates) > _MOST_VARIABLES:
        return None
    return _search(rest, chosen, candidates, [_PATIENCE])


def _in_series(formula: Formula) -> Iterable[Formula]:
    if isinstance(formula, All):
        for part in formula.parts:
            yield from _in_series(part)
    else:
        yield formula


def _search(
    formula: Formula, chosen: dict[Hashable, Number], candidates: dict[Hashable, Sequence[Number]], patience: list[int]
) -> bool | None:
    known = _value(formula, chosen)
    if known is not None:
        return known
    patience[0] -= 1
    if patience[0] <= 0:
        return None
    key = _undecided(formula, chosen)
    for value in candidates[key]:
        chosen[key] = value
        found = _search(formula, chosen, candidates, patience)
        if found or found is None:
            del chosen[key]
            return found
    chosen.pop(key, None)
    return False


def _value(formula: Formula, chosen: dict[Hashable, Number]) -> bool | None:
    match formula:
        case Is():
            return None if formula.key not in chosen else bool(chosen[formula.key]) == formula.value
        case Lies():
            return None if formula.key not in chosen else compare(formula.operator, chosen[formula.key], formula.limit)
        case _:
            decisive = isinstance(formula, Any)
            undecided = False
            for part in formula.parts:
                value = _value(part, chosen)
                if value is decisive:
                    return decisive
                undecided |= value is None
            return None if undecided else not decisive


def compare(operator: Operator, left: Number, right: Number) -> bool:
    match operator:
        case "<":
            return left < right
        case "<=":
            return left <= right
        case ">":
            return left > right
        case ">=":
            return left >= right
        case "=":
            return left == right
        case "<>":
            return left != right


def _undecided(formula: Formula, chosen: dict[Hashable, Number]) -> Hashable:
    """A variable of a part that nothing has settled yet; one alone in a series comes first."""
    match formula:
        case Is() | Lies():
            return formula.key
        case _:
            open_parts = [part for part in formula.parts if _value(part, chosen) is None]
            single = next((part for part in open_parts if isinstance(part, Is | Lies)), open_parts[0])
            return _undecided(single, chosen)


def leaves(formula: Formula) -> Iterable[Is | Lies]:
    """Its contacts and comparisons."""
    if isinstance(formula, Is | Lies):
        yield formula
    else:
        for part in formula.parts:
            yield from leaves(part)


def _candidates(formula: Formula) -> dict[Hashable, Sequence[Number]]:
    """The values that matter: off and on, or each limit and what lies around it, within the bounds."""
    limits: dict[Hashable, set[Number]] = {}
    numbers: dict[Hashable, Lies] = {}
    candidates: dict[Hashable, Sequence[Number]] = {}
    for leaf in leaves(formula):
        if isinstance(leaf, Is):
            candidates[leaf.key] = (True, False) if leaf.value else (False, True)
        else:
            numbers[leaf.key] = leaf
            limits.setdefault(leaf.key, set()).add(leaf.limit)
    for key, leaf in numbers.items():
        candidates[key] = _around(sorted(limits[key]), leaf.bounds, leaf.whole)
    return candidates


def _around(limits: list[Number], bounds: Bounds, whole: bool) -> list[Number]:
    low, high = bounds
    points: list[Number] = [low, high, *limits]
    if whole:
        points += [int(limit) + step for limit in limits for step in (-1, 1)]
    else:
        inside = sorted({low, high, *(limit for limit in limits if low < limit < high)})
        points += [(a + b) / 2 for a, b in pairwise(inside)]
    return sorted({point for point in points if low <= point <= high})
