"""What of the environment can have a say in a name at all, read off the rungs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import Any

from rungproof.logic.meaning import typed
from rungproof.logic.meaning.program import Condition, Output, Program, Rung, Stage


def names_read(expression: Any) -> Iterator[str]:
    """The tags and stages that a typed expression reads."""
    if isinstance(expression, typed.TagValue):
        yield expression.tag
    elif isinstance(expression, typed.StageOutput | typed.StageReading):
        yield expression.stage
    elif isinstance(expression, tuple):
        for each in expression:
            yield from names_read(each)
    elif isinstance(expression, typed.Typed):
        for each in fields(expression):
            if each.name not in ("type", "unit", "low", "high", "span"):
                yield from names_read(getattr(expression, each.name))


def reads_of(rung: Rung) -> dict[str, set[str]]:
    """By tag written and stage kept in a rung, the names that have a say in it there."""
    above: set[str] = set()
    found: dict[str, set[str]] = {}
    for element in rung.elements:
        if isinstance(element, Condition):
            above |= set(names_read(element.expression))
        else:
            found[element.name] = above | {*names_read(element.preset), *names_read(element.by)}
            above = {element.name}
    for output in rung.outputs:
        found.setdefault(output.target, set()).update(above, names_read(output.when), names_read(output.value))
    return found


def cone_of(program: Program, name: str) -> set[str]:
    """Every tag and stage that can have a say in `name`, itself included."""
    if program.controller is None:
        return {name}
    reads: dict[str, set[str]] = {}
    for rung in program.controller.rungs:
        for target, names in reads_of(rung).items():
            reads.setdefault(target, set()).update(names)
    seen: set[str] = set()
    left = [name]
    while left:
        each = left.pop()
        if each not in seen:
            seen.add(each)
            left += reads.get(each, ())
    return seen


def knobs_behind(program: Program, name: str) -> set[str]:
    """The knobs that can have a say in `name`. With a plant everything may: it closes the loop."""
    if program.plant is not None:
        return set(program.knobs)
    cone = cone_of(program, name.partition(".")[0])
    return {key for key, knob in program.knobs.items() if key in cone or knob.kind in ("power", "stop", "free output")}


def writers_of(program: Program, name: str) -> list[tuple[Rung, Output | Stage]]:
    """Where `name` is written: outputs on a tag, or the stage of that name."""
    rungs = program.controller.rungs if program.controller is not None else ()
    found: list[tuple[Rung, Output | Stage]] = []
    for rung in rungs:
        found += [(rung, each) for each in rung.elements if isinstance(each, Stage) and each.name == name]
        found += [(rung, each) for each in rung.outputs if each.target == name]
    return found
