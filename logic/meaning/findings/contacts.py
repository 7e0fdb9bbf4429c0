"""Contacts that can never conduct, and rungs whose lines exclude each other."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.formula import NEVER, All, Formula, can_hold, leaves
from rungproof.logic.meaning.findings.paths import Paths, Place
from rungproof.logic.meaning.program import Condition, Rung
from rungproof.logic.meaning.typed import AnyOf

#: Rungs of more lines are only looked at as a whole: nobody wrote them by hand.
_MOST_LINES = 100


def find_in_contacts(paths: Paths, reporter: Reporter) -> None:
    """Report on every rung's path and on every `when`."""
    for number, rung in enumerate(paths.controller.rungs):
        if _find_dead_path(number, rung, paths, reporter):
            continue
        if len(rung.elements) > _MOST_LINES:
            continue
        _find_dead_branches(number, rung, paths, reporter)
        for index, output in enumerate(rung.outputs):
            if output.when is not None and can_hold(paths.driven(number, index)) is False:
                reporter.report("contact-never-conducts", output.when.span, why="beside the path above it")


def _find_dead_path(number: int, rung: Rung, paths: Paths, reporter: Reporter) -> bool:
    """Whether power can never reach the outputs; the line that rules it out is reported."""
    if can_hold(paths.power(number)) is not False:
        return False
    lines = paths.lines(number) if len(rung.elements) <= _MOST_LINES else []
    for at, (line, power) in enumerate(lines):
        if can_hold(power) is False:
            element = rung.elements[at]
            if can_hold(line) is False:
                reporter.report("contact-never-conducts", element.span, why=_reason(line))
            else:
                above = tuple((e.span, "a line above it") for e in rung.elements[:at] if isinstance(e, Condition))
                reporter.report("rung-never-drives", element.span, name=rung.name, related=above[-1:])
            return True
    reporter.report("rung-never-drives", rung.span, name=rung.name)
    return True


def _reason(line: Formula) -> str:
    if line == NEVER:
        return "`off` is never on"
    return "nothing can be so" if len(list(leaves(line))) > 1 else "its range does not reach that far"


def _find_dead_branches(number: int, rung: Rung, paths: Paths, reporter: Reporter) -> None:
    for element, (_, power) in zip(rung.elements, paths.surroundings(number), strict=True):
        if not isinstance(element, Condition) or not isinstance(element.expression, AnyOf):
            continue
        for branch in element.expression.operands:
            formula = paths.formula(branch, Place(number))
            if can_hold(All((formula, power))) is False:
                reporter.report("contact-never-conducts", branch.span, why=_branch_reason(formula))


def _branch_reason(formula: Formula) -> str:
    return _reason(formula) if can_hold(formula) is False else "the lines around it exclude it"
