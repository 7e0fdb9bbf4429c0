"""The operators a part's arithmetic may use, and the plain-number implementation of them.

A part writes `+ - *` and `< <= > >=` as Python does, and everything else through `ops`.
With plain numbers that runs as it stands. A step expression given instead of a number
refuses to become a `bool`, `float` or `int`, so no part can branch on a value by mistake.

Only correctly rounded operations exist here: every engine must give the same bits.
`min(a, b)` is `select(a < b, a, b)` and `max(a, b)` is `select(b < a, a, b)`, because
libraries disagree on -0.0.
"""

from __future__ import annotations

import math
from typing import Any, Protocol

#: A plain number or truth, or an expression that stands for one.
Value = Any

#: Quotients clamp here, and x/0 is sign(x) times it (see the language's number rules).
REAL_LIMIT = 1e300


class Ops(Protocol):
    """The operator namespace. `select` evaluates both arms."""

    def select(self, condition: Value, then: Value, otherwise: Value) -> Value: ...
    def min(self, a: Value, b: Value) -> Value: ...
    def max(self, a: Value, b: Value) -> Value: ...
    def abs(self, a: Value) -> Value: ...
    def sqrt(self, a: Value) -> Value:
        """Square root of a real; 0 for a negative one."""

    def divide(self, a: Value, b: Value) -> Value:
        """Real quotient: x/0 is sign(x)*1e300, 0/0 is 0, clamped to +-1e300."""

    def both(self, a: Value, b: Value) -> Value: ...
    def either(self, a: Value, b: Value) -> Value: ...
    def inverse(self, a: Value) -> Value: ...
    def same(self, a: Value, b: Value) -> Value:
        """Equality of two ints or two bools."""

    def real(self, a: Value) -> Value:
        """An int as a real; a bool as 0.0 or 1.0."""


class PlainOps:
    """`Ops` over Python's own bool, int and float."""

    def select(self, condition: Value, then: Value, otherwise: Value) -> Value:
        return then if condition else otherwise

    def min(self, a: Value, b: Value) -> Value:
        return a if a < b else b

    def max(self, a: Value, b: Value) -> Value:
        return a if b < a else b

    def abs(self, a: Value) -> Value:
        return abs(a)

    def sqrt(self, a: Value) -> Value:
        return math.sqrt(a) if a >= 0 else 0.0

    def divide(self, a: Value, b: Value) -> Value:
        if b == 0:
            return REAL_LIMIT if a > 0 else -REAL_LIMIT if a < 0 else 0.0
        quotient = a / b
        return self.max(-REAL_LIMIT, self.min(quotient, REAL_LIMIT))

    def both(self, a: Value, b: Value) -> Value:
        return bool(a and b)

    def either(self, a: Value, b: Value) -> Value:
        return bool(a or b)

    def inverse(self, a: Value) -> Value:
        return not a

    def same(self, a: Value, b: Value) -> Value:
        return bool(a == b)

    def real(self, a: Value) -> Value:
        return float(a)


#: The plain-number operators, for settling start values and for single runs.
PLAIN = PlainOps()
