"""The value of a typed expression at a moment: one small function per class of `meaning/typed.py`.

Every operand is evaluated, always: nothing short-circuits, so that every edge contact sees
every scan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from operator import add, mul, sub
from typing import Any, get_args

from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_numbers import (
    greater,
    int_quotient,
    lesser,
    of_type,
    on_line,
    quotient,
    root,
)
from rungproof.logic.engines.reference_stages import StageState
from rungproof.logic.meaning import typed
from rungproof.logic.meaning.typed import Expression, Scalar


@dataclass(slots=True)
class Moment:
    """What an expression is evaluated against.

    `tags`, `stages` (by stage), `plant` (by flat key), `nodes` and `terminals` (of a circuit)
    are the values now. `memory` belongs to whoever evaluates: a controller, a monitor; it maps
    a slot to what is kept there, and is empty where nothing can be an edge: at power-up, at a
    monitor's first instant. `dt_ms` is the time since the last evaluation, `powered` says
    whether what remembers in a number runs now. `noted`, where somebody watches, is given what
    each condition was worth, by its place.
    """

    tags: Mapping[str, Scalar] = field(default_factory=dict)
    stages: Mapping[str, StageState] = field(default_factory=dict)
    plant: Mapping[str, Any] = field(default_factory=dict)
    nodes: Mapping[str, bool] = field(default_factory=dict)
    terminals: Mapping[str, bool] = field(default_factory=dict)
    power_up: bool = False
    scanning: bool = False
    memory: dict[str, Any] = field(default_factory=dict)
    dt_ms: int = 0
    powered: bool = True
    noted: dict[Span, bool] | None = None


def evaluate(expression: Expression, moment: Moment) -> Any:
    """The value of `expression`: a bool, an int or a float, as its type says."""
    value = _VALUE[type(expression)](expression, moment)
    if moment.noted is not None and expression.type == "bool":
        moment.noted[expression.span] = bool(value)
    return value


# ---------------------------------------------------------------------- leaves


def _constant(e: typed.Constant, moment: Moment) -> Scalar:
    return of_type(e.type, e.value)


def _tag(e: typed.TagValue, moment: Moment) -> Scalar:
    return moment.tags[e.tag]


def _stage_output(e: typed.StageOutput, moment: Moment) -> bool:
    return moment.stages[e.stage].out


def _stage_reading(e: typed.StageReading, moment: Moment) -> int:
    return moment.stages[e.stage].number


def _power_up(e: typed.PowerUp, moment: Moment) -> bool:
    return moment.power_up


def _scanning(e: typed.Scanning, moment: Moment) -> bool:
    return moment.scanning


def _part(e: typed.PartReading, moment: Moment) -> Any:
    return moment.plant[e.key]


def _node(e: typed.NodeValue, moment: Moment) -> bool:
    return moment.nodes[e.node]


def _terminal(e: typed.TerminalValue, moment: Moment) -> bool:
    return moment.terminals[e.tag]


# -------------------------------------------------------------------- contacts


def _inverse(e: typed.Inverse, moment: Moment) -> bool:
    return not evaluate(e.operand, moment)


def _edge(e: typed.EdgeOf, moment: Moment) -> bool:
    now = bool(evaluate(e.operand, moment))
    before = moment.memory.get(e.slot, now)
    moment.memory[e.slot] = now
    return now and not before if e.kind == "rising" else before and not now


def _all_of(e: typed.AllOf, moment: Moment) -> bool:
    values = [evaluate(operand, moment) for operand in e.operands]
    return all(values)


def _any_of(e: typed.AnyOf, moment: Moment) -> bool:
    values = [evaluate(operand, moment) for operand in e.operands]
    return any(values)


_COMPARE: dict[str, Callable[[Any, Any], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
    "=": lambda a, b: a == b,
    "<>": lambda a, b: a != b,
}


def _comparison(e: typed.Comparison, moment: Moment) -> bool:
    return _COMPARE[e.operator](evaluate(e.left, moment), evaluate(e.right, moment))


# --------------------------------------------------------------------- numbers


def _convert(e: typed.Convert, moment: Moment) -> Any:
    x = evaluate(e.operand, moment)
    return x * e.numerator if e.type == "int" else (x * float(e.numerator)) / float(e.denominator)


def _real(operand: Expression, moment: Moment) -> float:
    return float(evaluate(operand, moment))


def _to_real(e: typed.ToReal, moment: Moment) -> float:
    return _real(e.operand, moment)


_ARITHMETIC: dict[str, Callable[[Any, Any], Any]] = {"+": add, "-": sub, "*": mul}


def _binary(e: typed.Binary, moment: Moment) -> Any:
    a, b = evaluate(e.left, moment), evaluate(e.right, moment)
    if e.operator == "/":
        return int_quotient(a, b) if e.type == "int" else quotient(a, b)
    return _ARITHMETIC[e.operator](a, b)


def _folded(pick: Callable[[Any, Any], Any]) -> Callable[..., Any]:
    def fold(first: Any, *others: Any) -> Any:
        for other in others:
            first = pick(first, other)
        return first

    return fold


_FUNCTION: dict[str, Callable[..., Any]] = {
    "neg": lambda x: -x,
    "abs": abs,
    "sqrt": root,
    "round": round,
    "trunc": math.trunc,
    "min": _folded(lesser),
    "max": _folded(greater),
    "select": lambda condition, then, otherwise: then if condition else otherwise,
}


def _function(e: typed.Function, moment: Moment) -> Any:
    return _FUNCTION[e.name](*[evaluate(argument, moment) for argument in e.arguments])


def _scale(e: typed.Scale, moment: Moment) -> float:
    x = _real(e.operand, moment)
    low, y0 = float(e.from_low), float(e.to_low)
    return on_line(x, low, float(e.from_high) - low, y0, float(e.to_high) - y0)


def _table(e: typed.Table, moment: Moment) -> float:
    x = _real(e.operand, moment)
    points = [(float(a), float(b)) for a, b in e.points]
    piece = max([i for i, (xi, _) in enumerate(points[:-1]) if xi <= x], default=0)
    (x0, y0), (x1, y1) = points[piece], points[piece + 1]
    return on_line(x, x0, x1 - x0, y0, y1 - y0)


# --------------------------------------------------------- numbers with memory


def _before(slot: str, moment: Moment) -> Any:
    """What was kept in the last scan; None where this one starts a stretch."""
    return moment.memory.get(slot)


def _keep(slot: str, moment: Moment, value: Any) -> None:
    """Keep `value` for the next scan; a scan without power ends the stretch and keeps nothing."""
    if moment.powered:
        moment.memory[slot] = value
    else:
        moment.memory.pop(slot, None)


def _filter(e: typed.Filter, moment: Moment) -> float:
    x, time = _real(e.operand, moment), _real(e.time, moment)
    y = _before(e.slot, moment)
    dt = moment.dt_ms / 1000
    result = x if y is None else y + (x - y) * quotient(dt, time + dt)
    _keep(e.slot, moment, result)
    return float(result)


def _rate(e: typed.Rate, moment: Moment) -> float:
    x = _real(e.operand, moment)
    before = _before(e.slot, moment)
    _keep(e.slot, moment, x)
    if before is None or moment.dt_ms == 0:
        return 0.0
    return quotient(x - before, moment.dt_ms / 1000)


def _ramp(e: typed.Ramp, moment: Moment) -> float:
    x, rate = _real(e.operand, moment), _real(e.rate, moment)
    y = _before(e.slot, moment)
    dt = moment.dt_ms / 1000
    result = x if y is None else y + greater(-rate * dt, lesser(rate * dt, x - y))
    _keep(e.slot, moment, result)
    return float(result)


def _pi(e: typed.Pi, moment: Moment) -> float:
    """What is kept: the integral part and the clamped output."""
    measured, setpoint = _real(e.measured, moment), _real(e.setpoint, moment)
    gain, integral_time = _real(e.gain, moment), _real(e.integral, moment)
    start = None if e.starts_from is None else _real(e.starts_from, moment)
    low, high = float(e.low), float(e.high)
    error = setpoint - measured if e.reverse else measured - setpoint
    push = gain * error
    kept = _before(e.slot, moment)
    if kept is None:
        integral = 0.0 if start is None else start - push
    else:
        integral, output = kept
        further_out = (output >= high and push > 0) or (output <= low and push < 0)
        if not further_out:
            integral = integral + quotient(push * (moment.dt_ms / 1000), integral_time)
    output = greater(low, lesser(push + integral, high))
    _keep(e.slot, moment, (integral, output))
    return float(output)


_VALUE: dict[type, Callable[[Any, Moment], Any]] = {
    typed.Constant: _constant,
    typed.TagValue: _tag,
    typed.StageOutput: _stage_output,
    typed.StageReading: _stage_reading,
    typed.PowerUp: _power_up,
    typed.Scanning: _scanning,
    typed.PartReading: _part,
    typed.NodeValue: _node,
    typed.TerminalValue: _terminal,
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
assert set(_VALUE) == set(get_args(Expression)), "the reference engine must know every typed expression"
