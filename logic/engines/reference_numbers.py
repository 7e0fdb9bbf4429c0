"""Arithmetic on plain values, exactly as `semantics.md`, Numbers, and `meaning/typed.py` say.

Written apart from the operators of the steps, so that the two can be held against each other.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from rungproof.logic.meaning.program import Tag
from rungproof.logic.meaning.typed import Scalar, Type

#: Real quotients stay within +-REAL_LIMIT; x/0 is sign(x) times it, for ints INT_LIMIT.
REAL_LIMIT = 1e300
INT_LIMIT = 2**53

_OF_TYPE: dict[Type, Callable[[Any], Scalar]] = {"bool": bool, "int": int, "real": float}


def of_type(type_: Type, value: Scalar) -> Scalar:
    """`value` as Python holds that type."""
    return _OF_TYPE[type_](value)


def lesser(a: Any, b: Any) -> Any:
    """min(a, b) = select(a < b, a, b)."""
    return a if a < b else b


def greater(a: Any, b: Any) -> Any:
    """max(a, b) = select(b < a, a, b)."""
    return a if b < a else b


def clamped(value: Any, low: Any, high: Any) -> Any:
    """max(low, min(value, high))."""
    return greater(low, lesser(value, high))


def quotient(a: float, b: float) -> float:
    """a/b of reals: x/0 is sign(x)*1e300, 0/0 is 0, and nothing goes beyond +-1e300."""
    if b == 0:
        return REAL_LIMIT * ((a > 0) - (a < 0))
    return float(clamped(a / b, -REAL_LIMIT, REAL_LIMIT))


def int_quotient(a: int, b: int) -> int:
    """a/b of ints, truncated toward zero: x/0 is sign(x)*2^53, 0/0 is 0."""
    if b == 0:
        return INT_LIMIT * ((a > 0) - (a < 0))
    return abs(a) // abs(b) if (a < 0) == (b < 0) else -(abs(a) // abs(b))


def root(a: float) -> float:
    """Square root; 0 for a negative number."""
    return math.sqrt(a) if a >= 0 else 0.0


def on_line(x: float, x0: float, run: float, y0: float, rise: float) -> float:
    """y0 + ((x - x0) * rise) / run, in that order; `run` is a constant and not 0."""
    return y0 + ((x - x0) * rise) / run


def stored(tag: Tag, value: Scalar) -> Scalar:
    """What a number's tag holds after `value` was assigned to it: within its range, and 0.0 for -0.0."""
    if tag.type == "int":
        return int(clamped(value, tag.low, tag.high))
    return float(clamped(value + 0.0, float(tag.low), float(tag.high)))
