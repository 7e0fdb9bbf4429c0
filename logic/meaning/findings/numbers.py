"""Numbers that can leave their tag's range, and divisions by zero."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.intervals import Bounded, Known, narrowed
from rungproof.logic.meaning.findings.paths import Paths, conditions_holding, parts_within
from rungproof.logic.meaning.program import Output, Tag
from rungproof.logic.meaning.ranges import Bounds
from rungproof.logic.meaning.typed import Binary, Expression, Function, Pi

#: A store is said to leave its range beyond so much of it: less is rounding.
_ROUNDING = 1e-9


def find_in_numbers(paths: Paths, reporter: Reporter) -> None:
    """Report on every `:=`, and on every number in a condition."""
    for rung in paths.controller.rungs:
        for node in (*(getattr(e, "expression", None) for e in rung.elements), *(o.when for o in rung.outputs)):
            if node is not None:
                _find_in_condition(node, reporter)
        known: dict[str, Bounds] = {}
        for condition in conditions_holding(rung) if any(o.value for o in rung.outputs) else ():
            known = narrowed(condition, known)
        for output in rung.outputs:
            if output.value is not None:
                _find_in_store(output, known, paths.controller.tags[output.target], reporter)
            known.pop(output.target, None)


def _find_in_condition(node: Expression, reporter: Reporter) -> None:
    for part in parts_within(node):
        if isinstance(part, Binary) and part.operator == "/":
            divisor = part.right
            if divisor.low <= 0 <= divisor.high:
                _report_divisor(part, (divisor.low, divisor.high), reporter)


def _find_in_store(output: Output, above: Known, tag: Tag, reporter: Reporter) -> None:
    """`above` is what the path and the outputs run before it leave known."""
    bounded = Bounded(above if output.when is None else narrowed(output.when, above))
    assert output.value is not None
    if isinstance(output.value, Pi):
        for inside in (output.value.measured, output.value.setpoint, output.value.gain, output.value.integral):
            bounded.of(inside)
        low, high = output.value.low, output.value.high
    else:
        low, high = bounded.of(output.value)
    for division in bounded.zero_divisors:
        _report_divisor(division, bounded.of(division.right), reporter)
    _find_negative_roots(output.value, bounded, reporter)
    slack = 0.0 if tag.type == "int" else _ROUNDING * (tag.high - tag.low)
    if not bounded.zero_divisors and (low < tag.low - slack or high > tag.high + slack):
        _report_range(output, tag, (low, high), reporter)


def _find_negative_roots(node: Expression, bounded: Bounded, reporter: Reporter) -> None:
    for part in parts_within(node):
        if isinstance(part, Function) and part.name == "sqrt":
            low = bounded.of(part.arguments[0])[0]
            if low < 0:
                reporter.report("root-of-negative", part.span, low=_shown(low))


def _report_divisor(division: Binary, divisor: Bounds, reporter: Reporter) -> None:
    code = "division-by-zero" if divisor == (0, 0) else "divisor-can-be-zero"
    reporter.report(code, division.right.span)


def _report_range(output: Output, tag: Tag, bounds: Bounds, reporter: Reporter) -> None:
    unit = f" {tag.unit.symbol}" if tag.unit else ""
    reporter.report(
        "leaves-range",
        output.span,
        name=tag.name,
        range=f"{_shown(tag.low)}..{_shown(tag.high)}{unit}",
        found=f"{_shown(bounds[0])}..{_shown(bounds[1])}{unit}",
        related=((tag.span, "its range"),),
    )


def _shown(value: float) -> str:
    # Six digits, and no exponent where a person would write none.
    return f"{float(f'{value:.6g}'):.15g}"
