"""Reading what the clauses of a part's line gave, with the checks that several parts share.

Every function raises `PartError`, which names the slot, so that the message can point at
the clause.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from rungproof.plant.part import Given, PartError, TickError


def number(given: Mapping[str, Given], slot: str, default: float | None = None) -> float:
    """The number in `slot`; `default` where its clause is not written."""
    value = given.get(slot, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PartError(slot, f"needs `{slot}`")
    if not math.isfinite(value):
        raise PartError(slot, f"`{slot}` must be a finite number")
    return float(value)


def positive(given: Mapping[str, Given], slot: str, default: float | None = None) -> float:
    """The number in `slot`, greater than 0."""
    value = number(given, slot, default)
    if value <= 0:
        raise PartError(slot, f"`{slot}` must be greater than 0, not {value:g}")
    return value


def not_negative(given: Mapping[str, Given], slot: str, default: float | None = None) -> float:
    """The number in `slot`, 0 or greater."""
    value = number(given, slot, default)
    if value < 0:
        raise PartError(slot, f"`{slot}` cannot be less than 0, and is {value:g}")
    return value


def within(given: Mapping[str, Given], slot: str, low: float, high: float, default: float | None = None) -> float:
    """The number in `slot`, from `low` to `high`."""
    value = number(given, slot, default)
    if not low <= value <= high:
        raise PartError(slot, f"`{slot}` must lie between {low:g} and {high:g}, not {value:g}")
    return value


def interval(given: Mapping[str, Given], slot: str, low: float = -math.inf) -> tuple[float, float]:
    """The interval in `slot`: its lower end less than its upper one, and not below `low`."""
    value = given.get(slot)
    if not isinstance(value, tuple) or len(value) != 2:
        raise PartError(slot, f"needs `{slot}`")
    first, last = float(value[0]), float(value[1])
    if not first < last:
        raise PartError(slot, f"`{slot}` runs from {first:g} to {last:g}: the lower end must come first")
    if first < low:
        raise PartError(slot, f"`{slot}` cannot begin below {low:g}, and begins at {first:g}")
    return first, last


def row(given: Mapping[str, Given], slot: str) -> tuple[float, ...]:
    """The row of numbers in `slot`, empty where its clause is not written."""
    value = given.get(slot, ())
    if not isinstance(value, tuple):
        raise PartError(slot, f"needs `{slot}` as a row of numbers")
    return tuple(float(each) for each in value)


def texts(given: Mapping[str, Given], slot: str) -> tuple[str, ...]:
    """The texts in `slot`, empty where its clause is not written."""
    value = given.get(slot, ())
    if not isinstance(value, tuple):
        raise PartError(slot, f"needs `{slot}` as texts in quotes")
    return tuple(str(each) for each in value)


def flag(given: Mapping[str, Given], slot: str) -> bool:
    """Whether the clause with this flag is written."""
    return given.get(slot) is True


def part_name(given: Mapping[str, Given], slot: str) -> str | None:
    """The name of another part, None where the clause is not written."""
    value = given.get(slot)
    return value if isinstance(value, str) else None


def needed_part(given: Mapping[str, Given], slot: str) -> str:
    """The name of another part that this one cannot do without."""
    name = part_name(given, slot)
    if name is None:
        raise PartError(slot, f"needs `{slot}`: the name of another part")
    return name


def whole_ticks(given: Mapping[str, Given], slot: str, dt_ms: int, default: float | None = None) -> int:
    """A duration in milliseconds: not negative, and a whole number of plant ticks."""
    value = not_negative(given, slot, default)
    if value % dt_ms != 0:
        nearest = max(1, round(value / dt_ms)) * dt_ms
        raise TickError(
            slot,
            f"{value:g} ms is not a whole number of plant ticks of {dt_ms} ms",
            f"write {nearest} ms, or give the plant a shorter tick",
        )
    return int(value)
