"""Static bounds of numbers: what every value is proved to stay within.

Every operation of the language is correctly rounded, and rounding is monotone. So the
bounds of a monotone operation are that same operation, done in the same order, at the
ends: no widening is needed. Only `filter` and `ramp` are widened by their two roundings.
(Interval arithmetic: Moore, Kearfott, Cloud, Introduction to Interval Analysis, SIAM 2009,
chapters 2 and 5.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Literal

from rungproof.logic.meaning.typed import Type

Number = int | float
Bounds = tuple[Number, Number]

REAL_LIMIT = 1e300
INT_LIMIT = 2**53


def limit_of(kind: Type) -> Number:
    """The largest magnitude that a number of this type may reach: 1e300, or 2^53 for int."""
    return INT_LIMIT if kind == "int" else REAL_LIMIT


def within_limit(bounds: Bounds, kind: Type) -> bool:
    """Whether both ends are finite numbers within the limit."""
    limit = limit_of(kind)
    return -limit <= bounds[0] and bounds[1] <= limit


def hull(all_bounds: Iterable[Bounds]) -> Bounds:
    """The smallest bounds that hold all of them."""
    lows, highs = zip(*all_bounds, strict=True)
    return min(lows), max(highs)


def _at_corners(left: Bounds, right: Bounds, operation: Callable[[Number, Number], Number]) -> Bounds:
    corners = [operation(a, b) for a in left for b in right]
    return min(corners), max(corners)


def add(left: Bounds, right: Bounds) -> Bounds:
    return left[0] + right[0], left[1] + right[1]


def subtract(left: Bounds, right: Bounds) -> Bounds:
    return left[0] - right[1], left[1] - right[0]


def multiply(left: Bounds, right: Bounds) -> Bounds:
    return _at_corners(left, right, lambda a, b: a * b)


def square(x: Bounds) -> Bounds:
    """x times the same x: never negative, which `multiply` cannot know."""
    low, high = x[0] * x[0], x[1] * x[1]
    return (0 if x[0] <= 0 <= x[1] else min(low, high)), max(low, high)


def quotient_real(a: float, b: float) -> float:
    """The language's real division: x/0 is sign(x)*1e300, 0/0 is 0, clamped."""
    if b == 0:
        return REAL_LIMIT if a > 0 else -REAL_LIMIT if a < 0 else 0.0
    try:
        value = a / b
    except OverflowError:
        value = math.inf if (a > 0) == (b > 0) else -math.inf
    return max(-REAL_LIMIT, min(value, REAL_LIMIT))


def quotient_int(a: int, b: int) -> int:
    """The language's int division: toward zero; x/0 is sign(x)*2^53, 0/0 is 0."""
    if b == 0:
        return INT_LIMIT if a > 0 else -INT_LIMIT if a < 0 else 0
    magnitude = abs(a) // abs(b)
    return magnitude if (a < 0) == (b < 0) else -magnitude


def divide(left: Bounds, right: Bounds, kind: Type) -> Bounds:
    """Bounds of a quotient; a divisor that can be 0 opens them to the limit."""
    if right[0] <= 0 <= right[1]:
        return _divide_by_zero(left, right, kind)
    if kind == "int":
        return _at_corners(left, right, lambda a, b: quotient_int(int(a), int(b)))
    return _at_corners(left, right, quotient_real)


def _divide_by_zero(left: Bounds, right: Bounds, kind: Type) -> Bounds:
    limit = limit_of(kind)
    one_sided = right[0] >= 0
    low: Number = 0 if left[0] >= 0 and one_sided else -limit
    high: Number = 0 if left[1] <= 0 and one_sided else limit
    if left == (0, 0):
        return 0, 0
    return low, high


def negate(x: Bounds) -> Bounds:
    return -x[1], -x[0]


def absolute(x: Bounds) -> Bounds:
    low, high = abs(x[0]), abs(x[1])
    return (0 if x[0] <= 0 <= x[1] else min(low, high)), max(low, high)


def root(x: Bounds) -> Bounds:
    """Square root; of a negative number it is 0."""
    return math.sqrt(max(x[0], 0)), math.sqrt(max(x[1], 0))


def rounded(x: Bounds, how: Literal["round", "trunc"]) -> Bounds:
    """Real to int: half to even, or toward zero. Ends beyond the limit come back as they are."""
    if not within_limit(x, "int"):
        return x
    return (round(x[0]), round(x[1])) if how == "round" else (math.trunc(x[0]), math.trunc(x[1]))


def smaller(all_bounds: Iterable[Bounds]) -> Bounds:
    lows, highs = zip(*all_bounds, strict=True)
    return min(lows), min(highs)


def larger(all_bounds: Iterable[Bounds]) -> Bounds:
    lows, highs = zip(*all_bounds, strict=True)
    return max(lows), max(highs)


def converted(x: Bounds, numerator: int, denominator: int, kind: Type) -> Bounds:
    """A unit conversion: times the numerator, then by the denominator."""
    if kind == "int":
        return x[0] * numerator, x[1] * numerator
    return x[0] * numerator / denominator, x[1] * numerator / denominator


def scaled(x: Bounds, from_low: float, from_high: float, to_low: float, to_high: float) -> Bounds:
    """`scale`: monotone in x, so its ends are its values at the ends."""

    def at(value: Number) -> float:
        return to_low + ((value - from_low) * (to_high - to_low)) / (from_high - from_low)

    ends = at(x[0]), at(x[1])
    return min(ends), max(ends)


def looked_up(x: Bounds, points: tuple[tuple[float, float], ...]) -> Bounds:
    """`table`: each piece is monotone, so it is looked at where it begins and ends within x."""
    found: list[float] = []
    last = len(points) - 2
    for index in range(len(points) - 1):
        (x0, y0), (x1, y1) = points[index], points[index + 1]
        low = x[0] if index == 0 else max(x[0], x0)
        high = x[1] if index == last else min(x[1], x1)
        if low <= high:
            found += [y0 + ((value - x0) * (y1 - y0)) / (x1 - x0) for value in (low, high)]
    return min(found), max(found)


def smoothed(x: Bounds) -> Bounds:
    """`filter` and `ramp` walk within what they follow, give or take their own roundings."""
    slack = 2 * math.ulp(max(abs(x[0]), abs(x[1]), x[1] - x[0]))
    return x[0] - slack, x[1] + slack


def change_per_second(x: Bounds, shortest_scan: int) -> Bounds:
    """`rate`: the whole range within the shortest scan (ms), either way."""
    steepest = (x[1] - x[0]) / (shortest_scan / 1000)
    return -steepest, steepest
