"""The functions of expressions that remember nothing: min to table.

`functions_memory` has those that do. How many arguments each takes stands in `ARGUMENTS`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, cast

from rungproof.grammar import tree
from rungproof.grammar.reserved import FUNCTIONS
from rungproof.logic.meaning import expressions, functions_memory, ranges
from rungproof.logic.meaning.expressions_numbers import (
    Operand,
    as_real,
    checked,
    fits,
    gathered,
    in_unit,
    is_literal,
    read_literal,
    settled,
)
from rungproof.logic.meaning.scope import Context, nearest_name
from rungproof.logic.meaning.typed import Expression, Function, Scale, Table, Type
from rungproof.logic.meaning.units import Unit, root

_Plain = Literal["min", "max", "abs", "round", "trunc"]

#: Fewest and most arguments, and how a call reads.
ARGUMENTS: dict[str, tuple[int, int, str]] = {
    "min": (2, 50, "min(a, b)"),
    "max": (2, 50, "max(a, b)"),
    "abs": (1, 1, "abs(x)"),
    "sqrt": (1, 1, "sqrt(x)"),
    "round": (1, 1, "round(x)"),
    "trunc": (1, 1, "trunc(x)"),
    "select": (3, 3, "select(condition, x, y)"),
    "scale": (3, 3, "scale(x, 0..65535, 25 cm..125 cm)"),
    "table": (3, 200, "table(x, 0 cm: 0 L, 10 cm: 31 L)"),
    "filter": (2, 2, "filter(x, 2 s)"),
    "rate": (1, 1, "rate(x)"),
    "ramp": (2, 2, "ramp(x, 1 V/s)"),
    "pi": (4, 6, "pi(x, target, gain = 2 V/L, integral = 2 min, direction = reverse)"),
}

#: Functions whose memory may bear a name.
REMEMBERING = frozenset({"filter", "rate", "ramp", "pi"})


def type_call(call: tree.Call, context: Context) -> Expression | None:
    """Any call; None after reporting."""
    if not _is_well_formed(call, context):
        return None
    match call.function:
        case "min" | "max":
            return _extreme(call, context)
        case "select":
            return _select(call, context)
        case "scale":
            return _scale(call, context)
        case "table":
            return _table(call, context)
        case "abs" | "sqrt" | "round" | "trunc":
            return _of_one(call, context)
        case "pi":
            context.reporter.report("pi-not-alone", call.span)
            return None
        case _:
            return functions_memory.type_remembering(call, context)


def _is_well_formed(call: tree.Call, context: Context) -> bool:
    reporter = context.reporter
    if call.function not in FUNCTIONS:
        nearest = nearest_name(call.function, dict.fromkeys(sorted(FUNCTIONS)))
        mend = f"did you mean `{nearest}`?" if nearest else None
        reporter.report("unknown-function", call.span, name=call.function, mend=mend)
        return False
    fewest, most, form = ARGUMENTS[call.function]
    if not fewest <= len(call.arguments) <= most:
        reporter.report("wrong-arguments", call.span, function=call.function, form=form, count=len(call.arguments))
        return False
    if call.name is not None and call.function not in REMEMBERING:
        reporter.report("name-on-function", call.span, function=call.function, name=call.name)
        return False
    return call.function == "pi" or _has_plain_arguments(call, form, context)


def _has_plain_arguments(call: tree.Call, form: str, context: Context) -> bool:
    """Whether intervals and points stand where the function wants them, and no keywords at all."""
    wanted: dict[str, type] = {"scale": tree.Interval, "table": tree.Point}
    for index, argument in enumerate(call.arguments):
        special = wanted.get(call.function) if index else None
        right = (
            isinstance(argument.value, special)
            if special
            else not isinstance(argument.value, tree.Interval | tree.Point)
        )
        if argument.keyword is not None or not right:
            context.reporter.report("wrong-argument", argument.span, function=call.function, form=form)
            return False
    return True


def plain_argument(call: tree.Call, index: int) -> tree.Expression:
    """An argument that `_has_plain_arguments` has found to be an expression."""
    return cast("tree.Expression", call.arguments[index].value)


def _extreme(call: tree.Call, context: Context) -> Expression | None:
    operands = [expressions.type_operand(plain_argument(call, i), context) for i in range(len(call.arguments))]
    present = [operand for operand in operands if operand is not None]
    if len(present) < len(operands):
        return None
    together = gathered(present, context)
    if together is None:
        return None
    bounds = [(node.low, node.high) for node in together]
    low, high = ranges.smaller(bounds) if call.function == "min" else ranges.larger(bounds)
    return Function(
        type=together[0].type,
        unit=together[0].unit,
        low=low,
        high=high,
        span=call.span,
        name="min" if call.function == "min" else "max",
        arguments=tuple(together),
    )


def _select(call: tree.Call, context: Context) -> Expression | None:
    condition = expressions.type_contact(plain_argument(call, 0), context)
    arms = [expressions.type_operand(plain_argument(call, i), context) for i in (1, 2)]
    if condition is None or arms[0] is None or arms[1] is None:
        return None
    pair = gathered([arms[0], arms[1]], context)
    if pair is None:
        return None
    low, high = ranges.hull([(node.low, node.high) for node in pair])
    return Function(
        type=pair[0].type,
        unit=pair[0].unit,
        low=low,
        high=high,
        span=call.span,
        name="select",
        arguments=(condition, *pair),
    )


def _of_one(call: tree.Call, context: Context) -> Expression | None:
    x = expressions.type_number(plain_argument(call, 0), context)
    if x is None:
        return None
    if call.function == "sqrt":
        return _sqrt(call, x, context)
    if call.function != "abs" and x.type == "int":
        context.reporter.report("already-whole", call.span, function=call.function)
        return None
    bounds = (x.low, x.high)
    if call.function == "abs":
        kind: Type = x.type
        low, high = ranges.absolute(bounds)
    else:
        kind = "int"
        low, high = ranges.rounded(bounds, "round" if call.function == "round" else "trunc")
    name = cast("_Plain", call.function)
    node = Function(type=kind, unit=x.unit, low=low, high=high, span=call.span, name=name, arguments=(x,))
    return checked(node, context)


def _sqrt(call: tree.Call, x: Expression, context: Context) -> Expression | None:
    unit = root(x.unit) if x.unit else None
    if x.unit is not None and unit is None:
        context.reporter.report("root-of-unit", call.span, unit=x.unit.symbol)
        return None
    low, high = ranges.root((x.low, x.high))
    return Function(type="real", unit=unit, low=low, high=high, span=call.span, name="sqrt", arguments=(as_real(x),))


def _scale(call: tree.Call, context: Context) -> Expression | None:
    operand = expressions.type_operand(plain_argument(call, 0), context)
    ends = [read_span(cast("tree.Interval", call.arguments[i].value), context) for i in (1, 2)]
    source, target = ends
    if operand is None or source is None or target is None:
        return None
    (from_low, from_high), from_unit = source
    (to_low, to_high), to_unit = target
    if from_low == from_high:
        context.reporter.report("empty-range", call.arguments[1].span)
        return None
    x = _real_in(operand, from_unit, context, "the range it is scaled from")
    if x is None:
        return None
    four = [float(end) for end in (from_low, from_high, to_low, to_high)]
    low, high = ranges.scaled((x.low, x.high), *four)
    return checked(
        Scale(
            type="real",
            unit=to_unit,
            low=low,
            high=high,
            span=call.span,
            operand=x,
            from_low=four[0],
            from_high=four[1],
            to_low=four[2],
            to_high=four[3],
        ),
        context,
    )


def read_span(node: tree.Interval, context: Context) -> tuple[tuple[Fraction, Fraction], Unit | None] | None:
    """The ends of `a..b`, both numbers as written, in the upper end's unit; a bare lower end takes it."""
    if not is_literal(node.low) or not is_literal(node.high):
        wrong = node.high if is_literal(node.low) else node.low
        context.reporter.report("literal-wanted", wrong.span)
        return None
    low, high = read_literal(node.low, context.reporter), read_literal(node.high, context.reporter)
    if low is None or high is None:
        return None
    if low.unit is None:
        return (low.value, high.value), high.unit
    beside = f"the upper end is in {high.unit.symbol}" if high.unit else "the upper end has no unit"
    if not fits(low, high.unit, context, beside):
        return None
    return (low.stands_in(high.unit), high.value), high.unit


def _real_in(operand: Operand, unit: Unit | None, context: Context, what: str) -> Expression | None:
    beside = f"{what} is in {unit.symbol}" if unit else f"{what} has no unit"
    if not fits(operand, unit, context, beside):
        return None
    found = settled(operand, context)
    return None if found is None else in_unit(as_real(found), unit)


def _table(call: tree.Call, context: Context) -> Expression | None:
    operand = expressions.type_operand(plain_argument(call, 0), context)
    rows = [cast("tree.Point", argument.value) for argument in call.arguments[1:]]
    xs = _column([row.x for row in rows], context)
    ys = _column([row.y for row in rows], context)
    if operand is None or xs is None or ys is None:
        return None
    for index in range(1, len(rows)):
        if xs[0][index] <= xs[0][index - 1]:
            context.reporter.report("table-not-rising", rows[index].span)
            return None
    x = _real_in(operand, xs[1], context, "the left column of the table")
    if x is None:
        return None
    points = tuple((float(a), float(b)) for a, b in zip(xs[0], ys[0], strict=True))
    low, high = ranges.looked_up((x.low, x.high), points)
    return checked(
        Table(type="real", unit=ys[1], low=low, high=high, span=call.span, operand=x, points=points), context
    )


def _column(nodes: list[tree.Expression], context: Context) -> tuple[list[Fraction], Unit | None] | None:
    """One column of a table, in the unit of its first row."""
    if not is_literal(nodes[0]):
        context.reporter.report("literal-wanted", nodes[0].span)
        return None
    first = read_literal(nodes[0], context.reporter)
    if first is None:
        return None
    beside = f"the first row is in {first.unit.symbol}" if first.unit else "the first row has no unit"
    rest = [expressions.literal_in(node, context, first.unit, beside) for node in nodes[1:]]
    values = [value for value in rest if value is not None]
    return ([first.value, *values], first.unit) if len(values) == len(rest) else None
