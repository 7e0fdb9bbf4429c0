"""The closed set of operators of a Step: every engine and every encoder knows these and no others.

Only correctly rounded operations are here, so that all engines give the same bits. The
meaning of each operator on plain values is `OPERATORS[name].plain`; constant folding uses
it, and so does anything that must know what an operator computes without running an engine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Literal

Type = Literal["bool", "int", "real"]
Scalar = bool | int | float

#: Real quotients clamp here; x/0 is sign(x) times it.
REAL_LIMIT = 1e300
#: x/0 of ints is sign(x) times it.
INT_LIMIT = 2**53


@dataclass(frozen=True, slots=True)
class Operator:
    """An operator: its name, its signatures (operand types, result type), its plain meaning.

    `T` signatures are spelled out one by one: an operator is total on every signature it lists.
    """

    name: str
    signatures: tuple[tuple[tuple[Type, ...], Type], ...]
    plain: Callable[..., Scalar]
    words: str

    def result(self, operands: tuple[Type, ...]) -> Type:
        """The result type for these operand types; raises `TypeError` where there is none."""
        for wanted, result in self.signatures:
            if wanted == operands:
                return result
        raise TypeError(f"`{self.name}` does not take {', '.join(operands)}")


def divide_real(a: float, b: float) -> float:
    """Real quotient: x/0 is sign(x)*1e300, 0/0 is 0, clamped to +-1e300."""
    if b == 0:
        return REAL_LIMIT if a > 0 else -REAL_LIMIT if a < 0 else 0.0
    quotient = a / b
    capped = quotient if quotient < REAL_LIMIT else REAL_LIMIT
    return capped if capped > -REAL_LIMIT else -REAL_LIMIT


def divide_int(a: int, b: int) -> int:
    """Int quotient truncated toward zero: x/0 is sign(x)*2^53, 0/0 is 0."""
    if b == 0:
        return INT_LIMIT if a > 0 else -INT_LIMIT if a < 0 else 0
    quotient = abs(a) // abs(b)
    return quotient if (a < 0) == (b < 0) else -quotient


def root(a: float) -> float:
    """Square root; 0 for a negative number."""
    return math.sqrt(a) if a >= 0 else 0.0


_INT2: tuple[tuple[Type, ...], Type] = (("int", "int"), "int")
_REAL2: tuple[tuple[Type, ...], Type] = (("real", "real"), "real")
_INT1: tuple[tuple[Type, ...], Type] = (("int",), "int")
_REAL1: tuple[tuple[Type, ...], Type] = (("real",), "real")
_ORDER: tuple[tuple[tuple[Type, ...], Type], ...] = ((("int", "int"), "bool"), (("real", "real"), "bool"))
_LOGIC: tuple[tuple[tuple[Type, ...], Type], ...] = ((("bool", "bool"), "bool"),)


def _select(condition: bool, then: Any, otherwise: Any) -> Any:
    return then if condition else otherwise


_LISTED = (
    Operator("and", _LOGIC, lambda a, b: a and b, "both"),
    Operator("or", _LOGIC, lambda a, b: a or b, "one or both"),
    Operator("not", ((("bool",), "bool"),), lambda a: not a, "the other"),
    Operator("add", (_INT2, _REAL2), lambda a, b: a + b, "sum"),
    Operator("sub", (_INT2, _REAL2), lambda a, b: a - b, "difference"),
    Operator("mul", (_INT2, _REAL2), lambda a, b: a * b, "product"),
    Operator("quotient", (_REAL2,), lambda a, b: a / b, "real quotient; the divisor is a constant, not 0"),
    Operator("divide", (_REAL2,), divide_real, "real quotient, guarded and clamped"),
    Operator("div", (_INT2,), divide_int, "int quotient toward zero, guarded"),
    Operator("neg", (_INT1, _REAL1), lambda a: -a, "sign changed"),
    Operator("abs", (_INT1, _REAL1), abs, "without sign"),
    Operator("sqrt", (_REAL1,), root, "square root; 0 for a negative number"),
    Operator("round", ((("real",), "int"),), round, "nearest int, half to even"),
    Operator("trunc", ((("real",), "int"),), math.trunc, "int toward zero"),
    Operator("real", ((("int",), "real"), (("bool",), "real")), float, "an int as a real; a bool as 0 or 1"),
    Operator("lt", _ORDER, lambda a, b: a < b, "less than"),
    Operator("le", _ORDER, lambda a, b: a <= b, "less than or equal"),
    Operator("eq", ((("int", "int"), "bool"), (("bool", "bool"), "bool")), lambda a, b: a == b, "equal"),
    Operator(
        "select",
        tuple((("bool", each, each), each) for each in ("bool", "int", "real")),
        _select,
        "the second where the first is on, else the third",
    ),
)

OPERATORS: dict[str, Operator] = {each.name: each for each in _LISTED}


def assert_exhaustive(who: str, handled: Iterable[str]) -> None:
    """Raise `AssertionError` unless `handled` names exactly the operators of the set."""
    missing, unknown = set(OPERATORS) - set(handled), set(handled) - set(OPERATORS)
    if missing or unknown:
        raise AssertionError(f"{who} lacks {sorted(missing)} and knows {sorted(unknown)} beyond the set")
