"""The functions that remember: filter, rate, ramp and pi.

They run on the powered scans of the rung whose `:=` they stand in, so they have no meaning
anywhere else; `pi` clamps to the range of the tag it is assigned to, so it is only allowed
as a whole right side.
"""

from __future__ import annotations

from rungproof.grammar import tree
from rungproof.logic.meaning import expressions, functions, ranges
from rungproof.logic.meaning.expressions_numbers import as_real, checked
from rungproof.logic.meaning.scope import Context, nearest_name
from rungproof.logic.meaning.typed import Expression, Filter, Pi, Ramp, Rate
from rungproof.logic.meaning.units import Unit, known_unit, quotient

_SECOND = known_unit("s")
_PI_KEYWORDS = ("gain", "integral", "direction", "starts from")


def type_remembering(call: tree.Call, context: Context) -> Expression | None:
    """`filter`, `rate` and `ramp`; None after reporting."""
    if not context.may_remember:
        context.reporter.report("memory-not-here", call.span, function=call.function)
        return None
    x = expressions.type_number(functions.plain_argument(call, 0), context)
    match call.function:
        case "filter":
            return _filter(call, x, context)
        case "rate":
            return _rate(call, x, context)
        case _:
            return _ramp(call, x, context)


def _filter(call: tree.Call, x: Expression | None, context: Context) -> Expression | None:
    written = functions.plain_argument(call, 1)
    time = expressions.type_quantity(written, context, _SECOND, "real", "the filter's time stands here")
    if time is not None and time.low <= 0:
        context.reporter.report("not-above-zero", written.span, what="A filter's time")
        return None
    if x is None or time is None:
        return None
    real = as_real(x)
    low, high = ranges.smoothed((real.low, real.high))
    return checked(
        Filter(
            type="real",
            unit=real.unit,
            low=low,
            high=high,
            span=call.span,
            operand=real,
            time=time,
            slot=context.slots.take(call.name),
        ),
        context,
    )


def _rate(call: tree.Call, x: Expression | None, context: Context) -> Expression | None:
    if x is None:
        return None
    real = as_real(x)
    low, high = ranges.change_per_second((real.low, real.high), context.shortest_scan)
    return checked(
        Rate(
            type="real",
            unit=quotient(real.unit, _SECOND),
            low=low,
            high=high,
            span=call.span,
            operand=real,
            slot=context.slots.take(call.name),
        ),
        context,
    )


def _ramp(call: tree.Call, x: Expression | None, context: Context) -> Expression | None:
    if x is None:
        expressions.type_number(functions.plain_argument(call, 1), context)
        return None
    real = as_real(x)
    written = functions.plain_argument(call, 1)
    unit = quotient(real.unit, _SECOND)
    steepness = expressions.type_quantity(written, context, unit, "real", f"a ramp of this stands in {_symbol(unit)}")
    if steepness is None:
        return None
    if steepness.low < 0:
        context.reporter.report("not-above-zero", written.span, what="A ramp's steepness")
        return None
    low, high = ranges.smoothed((real.low, real.high))
    return checked(
        Ramp(
            type="real",
            unit=real.unit,
            low=low,
            high=high,
            span=call.span,
            operand=real,
            rate=steepness,
            slot=context.slots.take(call.name),
        ),
        context,
    )


def _symbol(unit: Unit | None) -> str:
    return unit.symbol if unit else "1/s"


# --------------------------------------------------------------------------- pi


def type_pi(
    call: tree.Call, context: Context, target: str, unit: Unit | None, limits: tuple[float, float]
) -> Expression | None:
    """`pi(...)` as the whole right side of `target :=`, a real in `unit` within `limits`."""
    given = _arguments(call, context)
    if given is None:
        return None
    measured = expressions.type_number(given["measured"], context)
    if measured is None:
        _type_rest(given, context)
        return None
    m = as_real(measured)
    in_same = f"the measured value is in {m.unit.symbol}" if m.unit else "the measured value has no unit"
    setpoint = expressions.type_quantity(given["setpoint"], context, m.unit, "real", in_same)
    gain_unit = quotient(unit, m.unit)
    by_measured = f"`{target}` by the measured value is in {gain_unit.symbol if gain_unit else 'no unit'}"
    gain = expressions.type_quantity(given["gain"], context, gain_unit, "real", by_measured)
    integral = expressions.type_quantity(given["integral"], context, _SECOND, "real", "the integral time stands here")
    reverse = _direction(given["direction"], context)
    starts = None
    if "starts from" in given:
        in_target = f"`{target}` is in {unit.symbol}" if unit else f"`{target}` has no unit"
        starts = expressions.type_quantity(given["starts from"], context, unit, "real", in_target)
        if starts is None:
            return None
    if setpoint is None or gain is None or integral is None or reverse is None:
        return None
    above_zero = ((gain, given["gain"], "The gain"), (integral, given["integral"], "The integral time"))
    if not _are_above_zero(above_zero, context):
        return None
    node = Pi(
        type="real",
        unit=unit,
        low=limits[0],
        high=limits[1],
        span=call.span,
        measured=m,
        setpoint=setpoint,
        gain=gain,
        integral=integral,
        reverse=reverse,
        starts_from=starts,
        slot=context.slots.take(call.name),
    )
    return node if _stays_bounded(node, context) else None


def _arguments(call: tree.Call, context: Context) -> dict[str, tree.Expression] | None:
    form = functions.ARGUMENTS["pi"][2]
    given: dict[str, tree.Expression] = {}
    for index, argument in enumerate(call.arguments):
        positional = ("measured", "setpoint")[index] if index < 2 and argument.keyword is None else None
        key = argument.keyword or positional
        if key is None or key in given or isinstance(argument.value, tree.Interval | tree.Point):
            context.reporter.report("wrong-argument", argument.span, function="pi", form=form)
            return None
        if positional is None and key not in _PI_KEYWORDS:
            nearest = nearest_name(key, dict.fromkeys(_PI_KEYWORDS))
            mend = f"did you mean `{nearest}`?" if nearest else None
            context.reporter.report("unknown-keyword", argument.span, name=key, mend=mend)
            return None
        given[key] = argument.value
    missing = [key for key in ("measured", "setpoint", "gain", "integral", "direction") if key not in given]
    if missing:
        context.reporter.report("missing-argument", call.span, missing=", ".join(missing), form=form)
        return None
    return given


def _type_rest(given: dict[str, tree.Expression], context: Context) -> None:
    """Find the mistakes in what remains, where the units that it needs are not known."""
    for key in ("setpoint", "gain", "integral", "starts from"):
        if key in given:
            expressions.type_operand(given[key], context)
    _direction(given["direction"], context)


def _direction(node: tree.Expression, context: Context) -> bool | None:
    if isinstance(node, tree.Name) and node.text in ("reverse", "direct"):
        return node.text == "reverse"
    context.reporter.report("direction-wanted", node.span)
    return None


def _are_above_zero(found: tuple[tuple[Expression, tree.Expression, str], ...], context: Context) -> bool:
    wrong = [(node, what) for value, node, what in found if value.low <= 0]
    for node, what in wrong:
        context.reporter.report("not-above-zero", node.span, what=what)
    return not wrong


def _stays_bounded(node: Pi, context: Context) -> bool:
    """Whether K*e, the step of the integral and their sum stay far within the limit.

    The integral moves only while it does not drive the output further past its range, so
    it never strays further than the range, twice the largest K*e and one step.
    """
    error = ranges.subtract((node.measured.low, node.measured.high), (node.setpoint.low, node.setpoint.high))
    push = max(abs(error[0]), abs(error[1])) * node.gain.high
    # A scan without an end in sight is no scan: 1e6 s bounds every dt.
    step = ranges.quotient_real(push * 1e6, node.integral.low)
    reach = abs(node.low) + abs(node.high) + 2 * push + step
    if reach <= ranges.REAL_LIMIT:
        return True
    context.reporter.report("number-too-large", node.span, what="The integral inside can go", limit="1e300")
    return False


def is_pi(node: tree.Expression) -> tree.Call | None:
    """The call, where a right side is `pi(...)` and nothing else."""
    while isinstance(node, tree.Group):
        node = node.inner
    return node if isinstance(node, tree.Call) and node.function == "pi" else None
