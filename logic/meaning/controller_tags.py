"""Tag lines: role, type, unit, range, start value, what a stopped controller gives."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning import ranges
from rungproof.logic.meaning.expressions_numbers import SMALLER, is_literal, read_literal, read_unit
from rungproof.logic.meaning.program import Tag
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.units import Unit, same_dimension

_Bounds = tuple[float | int, float | int]

#: Roles whose tags keep a value through a power cut only if the line says so.
_MAY_BE_RETAINED = ("memory", "output")


def type_tag(line: tree.TagLine, reporter: Reporter) -> Tag | None:
    """The tag of one line; None after reporting whatever is wrong with it."""
    before = len(reporter.found)
    _check_role(line, reporter)
    unit = read_unit(line.unit, line.span, reporter) if line.unit is not None else None
    if line.unit is not None and unit is None:
        return None
    bounds = _range(line, unit, reporter)
    if bounds is None:
        return None
    start = _value(line, "start value", unit, bounds, reporter)
    on_stop = None if _holds(line) else _value(line, "value on stop", unit, bounds, reporter)
    if len(reporter.found) > before:
        return None
    return Tag(
        name=line.name,
        role=line.role,
        type=line.type,
        unit=unit,
        low=bounds[0],
        high=bounds[1],
        start=start,
        on_stop=on_stop if line.role == "output" else None,
        retained=line.retained,
        remark=line.remark,
        span=line.span,
    )


def _check_role(line: tree.TagLine, reporter: Reporter) -> None:
    if line.retained and line.role not in _MAY_BE_RETAINED:
        reporter.report("retained-not-here", line.span, name=line.name, role=line.role)
    if line.on_stop is not None and line.role != "output":
        reporter.report("on-stop-not-here", line.on_stop.span, name=line.name, role=line.role)


def _holds(line: tree.TagLine) -> bool:
    return isinstance(line.on_stop, tree.Name) and line.on_stop.text == "hold"


def _range(line: tree.TagLine, unit: Unit | None, reporter: Reporter) -> _Bounds | None:
    if line.type == "bool":
        if line.unit is not None or line.range is not None:
            reporter.report("bool-with-range", line.range.span if line.range else line.span, name=line.name)
            return None
        return 0, 1
    if line.range is None:
        written = f"{line.type} {unit.symbol}" if unit else line.type
        reporter.report("range-missing", line.span, name=line.name, type=line.type, written=written)
        return None
    low = _number(line, line.range.low, unit, reporter)
    # One diagnosis is enough for two ends that are wrong in the same way.
    high = None if low is None else _number(line, line.range.high, unit, reporter)
    if low is None or high is None:
        return None
    if low >= high:
        reporter.report("range-backwards", line.range.span, name=line.name)
        return None
    return _as_type(low, line.type), _as_type(high, line.type)


def _number(line: tree.TagLine, node: tree.Expression, unit: Unit | None, reporter: Reporter) -> Fraction | None:
    """A number of a tag's line: bare, or in a unit that converts into the tag's."""
    if not is_literal(node):
        reporter.report("literal-wanted", node.span)
        return None
    literal = read_literal(node, reporter)
    if literal is None:
        return None
    if literal.unit is not None and (unit is None or not same_dimension(literal.unit, unit)):
        kept = unit.symbol if unit else "no unit"
        reporter.report("tag-unit-mismatch", node.span, name=line.name, found=literal.unit.symbol, unit=kept)
        return None
    value = literal.value if literal.unit is None else literal.stands_in(unit)
    if line.type == "int" and value.denominator != 1:
        reporter.report("not-whole", node.span, unit=f" of {unit.symbol}" if unit else "")
        return None
    limit = ranges.limit_of(line.type)
    if abs(value) > Fraction(limit):
        most = "2^53" if line.type == "int" else "1e300"
        reporter.report("number-too-large", node.span, what="This number goes", limit=most, mend=SMALLER)
        return None
    return value


def _as_type(value: Fraction, kind: Literal["bool", "int", "real"]) -> int | float:
    return int(value) if kind == "int" else float(value)


def _value(
    line: tree.TagLine,
    what: Literal["start value", "value on stop"],
    unit: Unit | None,
    bounds: _Bounds,
    reporter: Reporter,
) -> Scalar:
    """A start value or a value on stop; off, or the value of the range nearest 0, where none is written."""
    node = line.start if what == "start value" else line.on_stop
    if line.type == "bool":
        if node is None or isinstance(node, tree.Truth):
            return bool(node and node.value)
        reporter.report("truth-wanted", node.span, name=line.name, what=what)
        return False
    nearest = min(max(0, bounds[0]), bounds[1])
    default = int(nearest) if line.type == "int" else float(nearest)
    if node is None:
        return default
    value = _number(line, node, unit, reporter)
    if value is None:
        return default
    number = _as_type(value, line.type)
    if not bounds[0] <= number <= bounds[1]:
        low, high = (f"{end:.10g}" for end in bounds)
        reporter.report("start-out-of-range", node.span, name=line.name, what=what, low=low, high=high)
    return number
