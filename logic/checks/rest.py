"""A guess of how each switch stands while nothing happens: stop contacts closed, start contacts open.

The files do not say which contact is which, so the guess reads the rungs: it only says where
stories begin most often, and others begin elsewhere.
"""

from __future__ import annotations

from rungproof.logic.checks.expressions import rung_expressions, walk
from rungproof.logic.meaning.program import Condition, Program, Stage
from rungproof.logic.meaning.typed import AllOf, AnyOf, EdgeOf, Expression, Inverse, TagValue


def resting(program: Program) -> dict[str, bool]:
    """The resting state of every on/off knob that people or the process move.

    With a plant, buttons rest as they start. Without one, a tag rests on if some rung needs it
    in series to be on and no rung watches its edge: such is the contact of a stop, a guard, a
    healthy process.
    """
    knobs = [k for k in program.knobs.values() if k.type == "bool" and k.kind in ("tag", "operator", "disturbance")]
    rest = {knob.key: bool(knob.start) for knob in knobs}
    if program.plant is None:
        needed, watched = _needed_on(program), _watched(program)
        rest.update({key: key in needed and key not in watched for key in rest})
    return rest


def _needed_on(program: Program) -> set[str]:
    """Tags that stand as plain contacts in series in a rung that latches nothing by them alone."""
    needed: set[str] = set()
    for rung in program.controller.rungs if program.controller else ():
        if any(isinstance(element, Stage) for element in rung.elements):
            continue
        trips = all(output.kind in ("set", "reset") for output in rung.outputs)
        for element in rung.elements:
            if isinstance(element, Condition):
                plain, negated = _series(element.expression)
                needed |= negated if trips else plain
    return needed


def _series(expression: Expression) -> tuple[set[str], set[str]]:
    """The tags in series in an expression: as they are, and negated (also each of a trip's causes)."""
    match expression:
        case TagValue(tag=name):
            return {name}, set()
        case Inverse(operand=TagValue(tag=name)):
            return set(), {name}
        case AllOf(operands=operands):
            pairs = [_series(operand) for operand in operands]
            return set().union(*(p for p, _ in pairs)), set().union(*(n for _, n in pairs))
        case AnyOf(operands=operands):
            return set(), set().union(*(_series(operand)[1] for operand in operands))
        case _:
            return set(), set()


def _watched(program: Program) -> set[str]:
    return {
        expression.operand.tag
        for whole in rung_expressions(program)
        for expression in walk(whole)
        if isinstance(expression, EdgeOf) and isinstance(expression.operand, TagValue) and expression.kind == "rising"
    }
