"""Expressions: from what is written to the typed tree.

    type_contact(node, context)              a condition: power passes or not
    type_number(node, context)               a number, in whatever unit comes out
    type_quantity(node, context, unit, kind) a number converted to what is asked for
    type_duration(node, context)             a time: whole milliseconds, 1 or more

Each returns None after it has reported; a mistake inside silences everything above it,
and mistakes that have nothing to do with each other are all found in one go.
"""

from __future__ import annotations

from fractions import Fraction
from typing import assert_never

from rungproof.grammar import tree
from rungproof.logic.meaning import functions, ranges
from rungproof.logic.meaning.expressions_numbers import (
    Literal,
    Operand,
    all_or_none,
    as_real,
    checked,
    constant,
    fits,
    gathered,
    in_unit,
    is_literal,
    read_literal,
    settled,
)
from rungproof.logic.meaning.scope import Context
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Binary,
    Comparison,
    Constant,
    Convert,
    EdgeOf,
    Expression,
    Function,
    Inverse,
    TagValue,
    ToReal,
    Type,
)
from rungproof.logic.meaning.units import Unit, known_unit, product, quotient

MILLISECOND = known_unit("ms")


def type_contact(node: tree.Expression, context: Context) -> Expression | None:
    """A condition. Reports `not-a-contact` for a number."""
    found = type_any(node, context)
    if found is None or found.type == "bool":
        return found
    context.reporter.report("not-a-contact", node.span)
    return None


def type_number(node: tree.Expression, context: Context) -> Expression | None:
    """A number, int or real, in the unit that comes out of it. Reports `not-a-number`."""
    operand = type_operand(node, context)
    return None if operand is None else settled(operand, context)


def type_quantity(
    node: tree.Expression,
    context: Context,
    unit: Unit | None,
    kind: Type,
    beside: str,
    *,
    real_code: str = "real-to-int",
) -> Expression | None:
    """A number in `unit` and of type `kind` (int or real), converted where it has to be.

    `beside` says what asks for the unit, as "`pump_speed` is in V" does; `real_code` is what
    is reported of a real where an int is asked for.
    """
    operand = type_operand(node, context)
    if operand is None or not fits(operand, unit, context, beside):
        return None
    if isinstance(operand, Literal):
        return _literal_as(operand, unit, kind, context)
    found = in_unit(operand if kind == "int" else as_real(operand), unit)
    if kind == "int" and found.type == "real":
        context.reporter.report(real_code, node.span)
        return None
    return checked(found, context)


def _literal_as(operand: Literal, unit: Unit | None, kind: Type, context: Context) -> Expression | None:
    value = operand.stands_in(unit)
    if kind == "int" and value.denominator != 1:
        context.reporter.report("not-whole", operand.span, unit=f" of {unit.symbol}" if unit else "")
        return None
    return checked(constant(value, unit, kind, operand.span), context)


def type_duration(node: tree.Number | tree.Name, context: Context) -> Expression | None:
    """A time as an int in ms, 1 or more: a literal, or an int parameter in a unit of time.

    A number without unit has been reported where the line was read.
    """
    if isinstance(node, tree.Number) and node.unit is None:
        return None
    found = type_quantity(node, context, MILLISECOND, "int", "a time stands here", real_code="preset-is-real")
    if found is not None and not is_settable(found, context):
        context.reporter.report("preset-not-constant", node.span)
        return None
    if found is not None and found.low < 1:
        context.reporter.report("preset-too-small", node.span, least="1 ms")
        return None
    return found


def is_settable(node: Expression, context: Context) -> bool:
    """Whether an expression is a constant or (converted or not) a parameter: what a preset may be."""
    while isinstance(node, Convert | ToReal):
        node = node.operand
    return isinstance(node, Constant) or (isinstance(node, TagValue) and node.tag in context.parameters)


def type_operand(node: tree.Expression, context: Context) -> Operand | None:
    """A number still free to take its neighbour's type if it is a literal."""
    if is_literal(node):
        return read_literal(node, context.reporter)
    found = type_any(node, context)
    if found is None or found.type != "bool":
        return found
    context.reporter.report("not-a-number", node.span)
    return None


def type_any(node: tree.Expression, context: Context) -> Expression | None:
    """Whatever stands there: a condition or a number."""
    match node:
        case tree.Name():
            return context.scope.resolve(node, context.reporter)
        case tree.Group():
            return type_any(node.inner, context)
        case tree.Truth():
            return Constant(type="bool", low=int(node.value), high=int(node.value), span=node.span, value=node.value)
        case tree.Number():
            return type_number(node, context)
        case tree.Not():
            inner = type_contact(node.operand, context)
            return None if inner is None else Inverse(type="bool", span=node.span, operand=inner)
        case tree.Edge():
            return _edge(node, context)
        case tree.Series() | tree.Parallel():
            return _joined(node, context)
        case tree.Compare():
            return _comparison(node, context)
        case tree.Between():
            return _between(node, context)
        case tree.Arithmetic():
            return _arithmetic(node, context)
        case tree.Negate():
            return type_number(node, context) if is_literal(node) else _negated(node, context)
        case tree.Call():
            return functions.type_call(node, context)
    assert_never(node)


def _edge(node: tree.Edge, context: Context) -> Expression | None:
    operand = type_contact(node.operand, context)
    if operand is None:
        return None
    return EdgeOf(type="bool", span=node.span, kind=node.kind, operand=operand, slot=context.slots.take())


def _joined(node: tree.Series | tree.Parallel, context: Context) -> Expression | None:
    operands = all_or_none([type_contact(operand, context) for operand in node.operands])
    if operands is None:
        return None
    kind = AllOf if isinstance(node, tree.Series) else AnyOf
    return kind(type="bool", span=node.span, operands=tuple(operands))


def _comparison(node: tree.Compare, context: Context) -> Expression | None:
    sides = [_side(node.left, context), _side(node.right, context)]
    left, right = sides
    if left is None or right is None:
        return None
    if "bool" in (_type_of(left), _type_of(right)):
        return _comparison_of_contacts(node, left, right, context)
    pair = gathered([left, right], context)
    if pair is None:
        return None
    if node.operator in ("=", "<>") and pair[0].type == "real":
        context.reporter.report("equals-on-reals", node.span, operator=node.operator)
        return None
    return Comparison(type="bool", span=node.span, operator=node.operator, left=pair[0], right=pair[1])


def _side(node: tree.Expression, context: Context) -> Operand | None:
    return read_literal(node, context.reporter) if is_literal(node) else type_any(node, context)


def _type_of(operand: Operand) -> Type:
    return "real" if isinstance(operand, Literal) else operand.type


def _comparison_of_contacts(node: tree.Compare, left: Operand, right: Operand, context: Context) -> Expression | None:
    if isinstance(left, Literal) or isinstance(right, Literal) or left.type != right.type:
        number = node.left if _type_of(left) != "bool" else node.right
        context.reporter.report("contact-against-number", number.span)
        return None
    if node.operator not in ("=", "<>"):
        context.reporter.report("order-of-contacts", node.span, operator=node.operator)
        return None
    return Comparison(type="bool", span=node.span, operator=node.operator, left=left, right=right)


def _between(node: tree.Between, context: Context) -> Expression | None:
    # Both comparisons hold the value, so it is worked out twice: it must remember nothing,
    # and nesting must not double the work again and again.
    taken, betweens = context.slots.taken, context.betweens
    value = type_operand(node.value, context)
    twice_matters = context.slots.taken != taken or context.betweens != betweens
    ends = [type_operand(node.low, context), type_operand(node.high, context)]
    context.betweens += 1
    if twice_matters:
        context.reporter.report("between-remembers", node.value.span)
        return None
    if value is None or ends[0] is None or ends[1] is None:
        return None
    three = gathered([value, ends[0], ends[1]], context)
    if three is None:
        return None
    if three[1].low > three[2].high:
        context.reporter.report("empty-between", node.span)
        return None
    low = Comparison(type="bool", span=node.span, operator=">=", left=three[0], right=three[1])
    high = Comparison(type="bool", span=node.span, operator="<=", left=three[0], right=three[2])
    return AllOf(type="bool", span=node.span, operands=(low, high))


def _negated(node: tree.Negate, context: Context) -> Expression | None:
    operand = type_number(node.operand, context)
    if operand is None:
        return None
    low, high = ranges.negate((operand.low, operand.high))
    return Function(
        type=operand.type, unit=operand.unit, low=low, high=high, span=node.span, name="neg", arguments=(operand,)
    )


def _arithmetic(node: tree.Arithmetic, context: Context) -> Expression | None:
    left, right = type_operand(node.left, context), type_operand(node.right, context)
    if left is None or right is None:
        return None
    if node.operator in ("+", "-"):
        pair = gathered([left, right], context)
        unit = left.unit
    else:
        pair = _factors(left, right, context)
        unit = product(left.unit, right.unit) if node.operator == "*" else quotient(left.unit, right.unit)
    if pair is None:
        return None
    kind = pair[0].type
    low, high = arithmetic_bounds(node.operator, pair[0], pair[1], bounds_of(pair[0]), bounds_of(pair[1]))
    return checked(
        Binary(
            type=kind,
            unit=unit,
            low=low,
            high=high,
            span=node.span,
            operator=node.operator,
            left=pair[0],
            right=pair[1],
        ),
        context,
    )


def _factors(left: Operand, right: Operand, context: Context) -> list[Expression] | None:
    """Two operands of `*` or `/`, each in its own unit, of one type."""
    kind: Type = "int" if _both_int(left, right) else "real"
    return all_or_none([_of_type(operand, kind, context) for operand in (left, right)])


def _both_int(left: Operand, right: Operand) -> bool:
    literals = [o for o in (left, right) if isinstance(o, Literal)]
    if len(literals) == 2 and any(o.unit is not None for o in literals):
        return False
    return all(_whole(o) if isinstance(o, Literal) else o.type == "int" for o in (left, right))


def _whole(literal: Literal) -> bool:
    return literal.value.denominator == 1 and not literal.pointed


def _of_type(operand: Operand, kind: Type, context: Context) -> Expression | None:
    if isinstance(operand, Literal):
        return checked(constant(operand.value, operand.unit, kind, operand.span), context)
    return as_real(operand) if kind == "real" else operand


def bounds_of(node: Expression) -> ranges.Bounds:
    return node.low, node.high


def arithmetic_bounds(
    operator: str, left: Expression, right: Expression, a: ranges.Bounds, b: ranges.Bounds
) -> ranges.Bounds:
    """Bounds of `left operator right`, of one type, where they stand within `a` and `b`."""
    match operator:
        case "+":
            return ranges.add(a, b)
        case "-":
            return ranges.subtract(a, b)
        case "*":
            same = isinstance(left, TagValue) and isinstance(right, TagValue) and left.tag == right.tag
            return ranges.square(a) if same else ranges.multiply(a, b)
        case _:
            return ranges.divide(a, b, left.type)


def literal_in(node: tree.Expression, context: Context, unit: Unit | None, beside: str) -> Fraction | None:
    """The exact value, in `unit`, of something that must be a number as written."""
    if not is_literal(node):
        context.reporter.report("literal-wanted", node.span)
        return None
    operand = read_literal(node, context.reporter)
    if operand is None or not fits(operand, unit, context, beside):
        return None
    return operand.stands_in(unit)
