"""Reading typed expressions from outside: what stands in them, without running them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.meaning.typed import Constant, Expression, TagValue


def walk(expression: Expression) -> Iterator[Expression]:
    """The expression and everything in it, outermost first."""
    yield expression
    for child in children(expression):
        yield from walk(child)


def children(expression: Expression) -> Iterator[Expression]:
    """The operands of an expression, in order."""
    for each in fields(expression):
        value = getattr(expression, each.name)
        if isinstance(value, Expression):
            yield value
        elif isinstance(value, tuple):
            yield from (item for item in value if isinstance(item, Expression))


def whole_numbers(program: Program, expression: Expression | None) -> set[int]:
    """The values a preset or a time can take at its ends: a constant's, or a parameter's."""
    match expression:
        case None:
            return set()
        case Constant(value=value):
            return {int(value)}
        case TagValue(tag=name) if program.controller is not None and name in program.controller.tags:
            tag = program.controller.tags[name]
            return {int(tag.low), int(tag.start), int(tag.high)}
        case _:
            return {int(expression.low), int(expression.high)}


def form_expressions(requirement: Requirement) -> list[Expression]:
    """The expressions of a requirement's form, in the order of its fields."""
    values = (getattr(requirement.form, each.name) for each in fields(requirement.form))
    return [value for value in values if isinstance(value, Expression)]


def requirement_times(program: Program, requirement: Requirement) -> set[int]:
    """The times (ms) that a requirement speaks of."""
    time = getattr(requirement.form, "time", None)
    return whole_numbers(program, time) | whole_numbers(program, requirement.from_time)


def rung_expressions(program: Program) -> Iterator[Expression]:
    """Every expression of the controller's and the circuits' rungs, outermost."""
    rungs = list(program.controller.rungs) if program.controller else []
    for circuit in program.plant.circuits if program.plant else ():
        rungs.extend(circuit.rungs)
    for rung in rungs:
        for element in rung.elements:
            expression = getattr(element, "expression", None)
            if expression is not None:
                yield expression
        for output in rung.outputs:
            yield from (e for e in (output.value, output.when) if e is not None)


def program_expressions(program: Program) -> Iterator[Expression]:
    """Every expression of the rungs, requirements and assumptions, outermost."""
    yield from rung_expressions(program)
    for requirement in program.requirements:
        yield from form_expressions(requirement)
    for assumption in program.assumptions:
        yield assumption.condition
