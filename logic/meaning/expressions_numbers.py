"""Literals, and how numbers of different units and types are brought together.

A literal has no type of its own: `5` is an int beside an int and a real beside a real. It
is read as an exact fraction, converted exactly, and rounded once at the end. Only where it
multiplies or divides, a point in it makes it real: who writes `raw / 7.0` wants no whole quotient.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning import ranges
from rungproof.logic.meaning.scope import Context
from rungproof.logic.meaning.typed import Constant, Convert, Expression, ToReal, Type
from rungproof.logic.meaning.units import Unit, name_of, parse_unit, ratio_between, same_dimension
from rungproof.logic.meaning.units_nearest import foreign_unit, nearest_unit

_LONGEST_NUMBER = 330
_LARGEST_EXPONENT = 330

#: The mend for a number as written that is too large.
SMALLER = "write a smaller one, and see whether its unit is the one you mean"


@dataclass(frozen=True, slots=True)
class Literal:
    """A number as written: its exact value, its unit, its place, and whether it has a point in it."""

    value: Fraction
    unit: Unit | None
    span: tree.Span
    pointed: bool = False

    def stands_in(self, unit: Unit | None) -> Fraction:
        """Its exact value in another unit of its dimension."""
        return self.value if self.unit == unit else self.value * ratio_between(self.unit, unit)


Operand = Literal | Expression


def is_literal(node: object) -> bool:
    """Whether a node is a number as written, signs and parentheses aside."""
    while isinstance(node, tree.Group | tree.Negate):
        node = node.inner if isinstance(node, tree.Group) else node.operand
    return isinstance(node, tree.Number)


def read_literal(node: tree.Expression, reporter: Reporter) -> Literal | None:
    """The number that a node for which `is_literal` holds writes down; None after reporting."""
    span, sign = node.span, 1
    while isinstance(node, tree.Group | tree.Negate):
        sign = -sign if isinstance(node, tree.Negate) else sign
        node = node.inner if isinstance(node, tree.Group) else node.operand
    assert isinstance(node, tree.Number)
    value = exact_value(node, reporter)
    unit = read_unit(node.unit, node.span, reporter) if node.unit is not None else None
    if value is None or (node.unit is not None and unit is None):
        return None
    return Literal(sign * value, unit, span, "." in node.text)


def exact_value(node: tree.Number, reporter: Reporter) -> Fraction | None:
    """The number's value without its unit; None after reporting one that no engine could hold."""
    value = _exact(node.text)
    if value is None:
        reporter.report("number-too-large", node.span, what="This number goes", limit="1e300", mend=SMALLER)
    return value


@lru_cache(maxsize=4096)
def _exact(text: str) -> Fraction | None:
    mantissa, _, exponent = text.lower().partition("e")
    if len(mantissa) > _LONGEST_NUMBER or len(exponent) > 4 or abs(int(exponent or 0)) > _LARGEST_EXPONENT:
        return None
    value = Fraction(text)
    return value if value <= Fraction(ranges.REAL_LIMIT) else None


def read_unit(symbol: str, span: tree.Span, reporter: Reporter) -> Unit | None:
    """The unit of a token, or None after a diagnosis that names the likely one."""
    unit = parse_unit(symbol)
    if unit is None:
        nearest = nearest_unit(symbol)
        foreign = None if nearest else foreign_unit(symbol)
        if nearest:
            reporter.report("unknown-unit", span, unit=symbol, mend=f"did you mean `{nearest}`?")
        elif foreign:
            ours, size = foreign
            mend = f"write it in {ours}: 1 {symbol} is {size:.10g} {ours}"
            reporter.report("unknown-unit", span, unit=symbol, mend=mend)
        else:
            reporter.report("unknown-unit", span, unit=symbol)
    return unit


def constant(value: Fraction, unit: Unit | None, kind: Type, span: tree.Span) -> Constant:
    """An exact value as a constant: an int as it is, a real rounded once."""
    number = int(value) if kind == "int" else _rounded(value)
    return Constant(type=kind, unit=unit, low=number, high=number, span=span, value=number)


def _rounded(value: Fraction) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def settled(operand: Operand, context: Context) -> Expression | None:
    """An operand that meets nothing: a whole literal without unit is an int, others are real."""
    if not isinstance(operand, Literal):
        return operand
    kind: Type = "int" if operand.unit is None and operand.value.denominator == 1 else "real"
    return checked(constant(operand.value, operand.unit, kind, operand.span), context)


def checked(node: Expression, context: Context) -> Expression | None:
    """The node, or None after reporting that it could leave what numbers can hold."""
    if ranges.within_limit((node.low, node.high), node.type):
        return node
    limit = "2^53" if node.type == "int" else "1e300"
    what, mend = "What stands here can go", None
    if isinstance(node, Constant):
        what, mend = "This number goes", SMALLER
    context.reporter.report("number-too-large", node.span, what=what, limit=limit, mend=mend)
    return None


def as_real(node: Expression) -> Expression:
    """An int wrapped as a real; a constant simply becomes one."""
    if node.type != "int":
        return node
    low, high = float(node.low), float(node.high)
    if isinstance(node, Constant):
        return Constant(type="real", unit=node.unit, low=low, high=high, span=node.span, value=low)
    return ToReal(type="real", unit=node.unit, low=low, high=high, span=node.span, operand=node)


def in_unit(node: Expression, unit: Unit | None) -> Expression:
    """The node converted to a unit of its dimension; an int becomes real where the ratio is not whole."""
    if node.unit == unit:
        return node
    ratio = ratio_between(node.unit, unit)
    if ratio == 1:
        return node
    if node.type == "int" and ratio.denominator != 1:
        node = as_real(node)
    low, high = ranges.converted((node.low, node.high), ratio.numerator, ratio.denominator, node.type)
    return Convert(
        type=node.type,
        unit=unit,
        low=low,
        high=high,
        span=node.span,
        operand=node,
        numerator=ratio.numerator,
        denominator=ratio.denominator,
    )


def fits(operand: Operand, unit: Unit | None, context: Context, beside: str) -> bool:
    """Whether an operand may stand where `unit` is asked for; reports where it may not.

    `beside` says what asks for it, as "the left side is in L" does.
    """
    found = operand.unit
    literal = isinstance(operand, Literal)
    if found is None and unit is not None and literal:
        return _miss_unit(operand.span, unit, context, beside)
    plain_counts = found is None and unit is not None and isinstance(operand, Expression) and operand.type == "int"
    unit_on_plain = literal and found is not None and unit is None
    if same_dimension(found, unit) and not plain_counts and not unit_on_plain:
        return True
    context.reporter.report(
        "unit-mismatch", operand.span, found=_is_in(found), beside=beside, mend=_mend_mismatch(found, unit)
    )
    return False


def _miss_unit(span: tree.Span, unit: Unit, context: Context, beside: str) -> bool:
    context.reporter.report("unit-missing", span, unit=unit.symbol, beside=beside)
    return False


def _is_in(unit: Unit | None) -> str:
    return f"in {unit.symbol}" if unit else "a plain number"


def _mend_mismatch(found: Unit | None, wanted: Unit | None) -> str:
    if wanted is None:
        return "leave the unit off, or give the other side one"
    if found is None:
        return f"turn it into {wanted.symbol} first: `scale(x, 0..65535, ...)` makes a quantity of a count"
    return f"bring both to one kind of unit, {wanted.symbol} or what converts into it"


def gathered(operands: Sequence[Operand], context: Context, beside: str | None = None) -> list[Expression] | None:
    """Operands that meet, as one type and in the first one's unit; None after reporting.

    All are int if every one is (a literal is where its value is whole) and every ratio is a
    whole number; otherwise all are real.
    """
    unit = operands[0].unit
    first_literal = isinstance(operands[0], Literal)
    if first_literal and unit is None:
        others = next((o.unit for o in operands[1:] if o.unit is not None), None)
        if others is not None:
            _miss_unit(operands[0].span, others, context, f"the other side is in {others.symbol}")
            return None
    words = beside or ("the other side is in " + name_of(unit) if unit else "the other side is a plain number")
    unfit = [operand for operand in operands[1:] if not fits(operand, unit, context, words)]
    if unfit:
        return None
    kind: Type = "int" if _all_int(operands, unit) else "real"
    return all_or_none([_brought(operand, unit, kind, context) for operand in operands])


def _all_int(operands: Sequence[Operand], unit: Unit | None) -> bool:
    only_literals = all(isinstance(operand, Literal) for operand in operands)
    if only_literals and unit is not None:
        return False
    for operand in operands:
        if isinstance(operand, Literal):
            if operand.stands_in(unit).denominator != 1:
                return False
        elif operand.type != "int" or (operand.unit != unit and ratio_between(operand.unit, unit).denominator != 1):
            return False
    return True


def _brought(operand: Operand, unit: Unit | None, kind: Type, context: Context) -> Expression | None:
    if isinstance(operand, Literal):
        return checked(constant(operand.stands_in(unit), unit, kind, operand.span), context)
    node = in_unit(as_real(operand) if kind == "real" else operand, unit)
    return node if node is operand else checked(node, context)


def all_or_none(found: Sequence[Expression | None]) -> list[Expression] | None:
    """The list if nothing in it is missing."""
    whole = [node for node in found if node is not None]
    return whole if len(whole) == len(found) else None
