"""Typed expressions lowered to nodes, operation by operation as `meaning.typed` defines them."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any, get_args

from rungproof.logic.meaning import typed
from rungproof.logic.steps.node import (
    ON,
    Node,
    apply,
    both,
    clamp,
    constant,
    either,
    inverse,
    least,
    most,
    select,
    typed_constant,
)
from rungproof.logic.steps.operators import REAL_LIMIT
from rungproof.logic.steps.scope import Scope

_ARITHMETIC = {"+": "add", "-": "sub", "*": "mul", "/": "divide"}
_ORDER = {"<": ("lt", False), "<=": ("le", False), ">": ("lt", True), ">=": ("le", True)}


def lower(expression: typed.Expression, scope: Scope, powered: Node = ON) -> Node:
    """The node that computes `expression`. `powered`: whether what remembers in it runs at this step."""
    return _LOWER[type(expression)](expression, scope, powered)


def lower_real(expression: typed.Expression, scope: Scope, powered: Node = ON) -> Node:
    """As `lower`, an int made real."""
    node = lower(expression, scope, powered)
    return apply("real", node) if node.type == "int" else node


def _constant(expression: typed.Constant, scope: Scope, powered: Node) -> Node:
    return typed_constant(expression.type, expression.value)


def _leaf(expression: Any, scope: Scope, powered: Node) -> Node:
    return scope.read(expression)


def _inverse(expression: typed.Inverse, scope: Scope, powered: Node) -> Node:
    return inverse(lower(expression.operand, scope, powered))


def _edge(expression: typed.EdgeOf, scope: Scope, powered: Node) -> Node:
    now = lower(expression.operand, scope, powered)
    before = scope.remember(f"{expression.slot}#before", "bool", False)
    scope.becomes(f"{expression.slot}#before", now)
    went = both(now, inverse(before)) if expression.kind == "rising" else both(inverse(now), before)
    return both(inverse(scope.first), went)


def _all_of(expression: typed.AllOf, scope: Scope, powered: Node) -> Node:
    return both(*(lower(each, scope, powered) for each in expression.operands))


def _any_of(expression: typed.AnyOf, scope: Scope, powered: Node) -> Node:
    return either(*(lower(each, scope, powered) for each in expression.operands))


def _comparison(expression: typed.Comparison, scope: Scope, powered: Node) -> Node:
    left, right = lower(expression.left, scope, powered), lower(expression.right, scope, powered)
    if expression.operator in _ORDER:
        operator, swapped = _ORDER[expression.operator]
        return apply(operator, right, left) if swapped else apply(operator, left, right)
    same = apply("eq", left, right)
    return same if expression.operator == "=" else inverse(same)


def _convert(expression: typed.Convert, scope: Scope, powered: Node) -> Node:
    operand = lower(expression.operand, scope, powered)
    if operand.type == "int":
        return apply("mul", operand, constant(int(expression.numerator)))
    product = apply("mul", operand, constant(float(expression.numerator)))
    return apply("quotient", product, constant(float(expression.denominator)))


def _to_real(expression: typed.ToReal, scope: Scope, powered: Node) -> Node:
    return lower_real(expression.operand, scope, powered)


def _binary(expression: typed.Binary, scope: Scope, powered: Node) -> Node:
    left, right = lower(expression.left, scope, powered), lower(expression.right, scope, powered)
    operator = _ARITHMETIC[expression.operator]
    return apply("div" if operator == "divide" and left.type == "int" else operator, left, right)


def _function(expression: typed.Function, scope: Scope, powered: Node) -> Node:
    operands = [lower(each, scope, powered) for each in expression.arguments]
    if expression.name in ("min", "max"):
        pick = least if expression.name == "min" else most
        result = operands[0]
        for each in operands[1:]:
            result = pick(result, each)
        return result
    return apply(expression.name, *operands)


def _scale(expression: typed.Scale, scope: Scope, powered: Node) -> Node:
    x = lower_real(expression.operand, scope, powered)
    low, high = float(expression.from_low), float(expression.from_high)
    return _line(x, low, high - low, float(expression.to_low), float(expression.to_high) - float(expression.to_low))


def _line(x: Node, x0: float, run: float, y0: float, rise: float) -> Node:
    """y0 + ((x - x0) * rise) / run, in that order."""
    product = apply("mul", apply("sub", x, constant(x0)), constant(rise))
    return apply("add", constant(y0), apply("quotient", product, constant(run)))


def _table(expression: typed.Table, scope: Scope, powered: Node) -> Node:
    x = lower_real(expression.operand, scope, powered)
    points = [(float(a), float(b)) for a, b in expression.points]
    result: Node | None = None
    for (x0, y0), (x1, y1) in pairwise(points):
        piece = _line(x, x0, x1 - x0, y0, y1 - y0)
        result = piece if result is None else select(apply("le", constant(x0), x), piece, result)
    assert result is not None
    return result


# ------------------------------------------------------------ what remembers


def _started(slot: str, scope: Scope, powered: Node) -> Node:
    """On where an expression with memory goes on; off on the first powered step of a stretch."""
    ran = scope.remember(f"{slot}#ran", "bool", False)
    scope.becomes(f"{slot}#ran", powered)
    return both(ran, inverse(scope.first))


def _kept(slot: str, scope: Scope, powered: Node, value: Node, before: Node) -> None:
    scope.becomes(slot, select(powered, value, before))


def _filter(expression: typed.Filter, scope: Scope, powered: Node) -> Node:
    x, time = lower_real(expression.operand, scope, powered), lower_real(expression.time, scope, powered)
    y = scope.remember(f"{expression.slot}#y", "real", 0.0, -REAL_LIMIT, REAL_LIMIT)
    share = apply("divide", scope.seconds, apply("add", time, scope.seconds))
    moved = apply("add", y, apply("mul", apply("sub", x, y), share))
    result = select(_started(expression.slot, scope, powered), moved, x)
    _kept(f"{expression.slot}#y", scope, powered, result, y)
    return result


def _rate(expression: typed.Rate, scope: Scope, powered: Node) -> Node:
    x = lower_real(expression.operand, scope, powered)
    before = scope.remember(f"{expression.slot}#x", "real", 0.0, -REAL_LIMIT, REAL_LIMIT)
    moving = both(_started(expression.slot, scope, powered), inverse(apply("eq", scope.elapsed, constant(0))))
    slope = apply("divide", apply("sub", x, before), scope.seconds)
    _kept(f"{expression.slot}#x", scope, powered, x, before)
    return select(moving, slope, constant(0.0))


def _ramp(expression: typed.Ramp, scope: Scope, powered: Node) -> Node:
    x, rate = lower_real(expression.operand, scope, powered), lower_real(expression.rate, scope, powered)
    y = scope.remember(f"{expression.slot}#y", "real", 0.0, -REAL_LIMIT, REAL_LIMIT)
    most_down = apply("mul", apply("neg", rate), scope.seconds)
    most_up = apply("mul", rate, scope.seconds)
    moved = apply("add", y, most(most_down, least(most_up, apply("sub", x, y))))
    result = select(_started(expression.slot, scope, powered), moved, x)
    _kept(f"{expression.slot}#y", scope, powered, result, y)
    return result


def _pi(expression: typed.Pi, scope: Scope, powered: Node) -> Node:
    measured, setpoint = (lower_real(each, scope, powered) for each in (expression.measured, expression.setpoint))
    gain, time = (lower_real(each, scope, powered) for each in (expression.gain, expression.integral))
    error = apply("sub", setpoint, measured) if expression.reverse else apply("sub", measured, setpoint)
    push = apply("mul", gain, error)
    slot, low, high = expression.slot, constant(float(expression.low)), constant(float(expression.high))
    total = scope.remember(f"{slot}#i", "real", 0.0, -REAL_LIMIT, REAL_LIMIT)
    before = scope.remember(f"{slot}#out", "real", low.value, low.value, high.value)
    begin = constant(0.0)
    if expression.starts_from is not None:
        begin = apply("sub", lower_real(expression.starts_from, scope, powered), push)
    grown = apply("add", total, apply("divide", apply("mul", push, scope.seconds), time))
    outward = either(
        both(apply("le", high, before), apply("lt", constant(0.0), push)),
        both(apply("le", before, low), apply("lt", push, constant(0.0))),
    )
    integral = select(_started(slot, scope, powered), select(outward, total, grown), begin)
    output = clamp(apply("add", push, integral), expression.low, expression.high)
    _kept(f"{slot}#i", scope, powered, integral, total)
    _kept(f"{slot}#out", scope, powered, output, before)
    return output


_LOWER: dict[type, Callable[[Any, Scope, Node], Node]] = {
    typed.Constant: _constant,
    typed.TagValue: _leaf,
    typed.StageOutput: _leaf,
    typed.StageReading: _leaf,
    typed.PowerUp: _leaf,
    typed.Scanning: _leaf,
    typed.PartReading: _leaf,
    typed.NodeValue: _leaf,
    typed.TerminalValue: _leaf,
    typed.Inverse: _inverse,
    typed.EdgeOf: _edge,
    typed.AllOf: _all_of,
    typed.AnyOf: _any_of,
    typed.Comparison: _comparison,
    typed.Convert: _convert,
    typed.ToReal: _to_real,
    typed.Binary: _binary,
    typed.Function: _function,
    typed.Scale: _scale,
    typed.Table: _table,
    typed.Filter: _filter,
    typed.Rate: _rate,
    typed.Ramp: _ramp,
    typed.Pi: _pi,
}
assert set(_LOWER) == set(get_args(typed.Expression)), "lowering must know every typed expression"
