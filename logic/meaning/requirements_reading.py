"""What a typed formula reads: tags, stages, the plant."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.typed import (
    Expression,
    PartReading,
    PowerUp,
    Scanning,
    StageOutput,
    StageReading,
    TagValue,
    Typed,
)


@dataclass(slots=True)
class Readings:
    """Names read. `spans` holds each tag, stage, `power_up` and `scanning` with its place; parts apart."""

    tags: set[str] = field(default_factory=set)
    stages: set[str] = field(default_factory=set)
    plant: set[str] = field(default_factory=set)
    power: bool = False
    spans: list[tuple[str, Span]] = field(default_factory=list)


def leaves(expression: Expression) -> Iterator[Typed]:
    """Every typed node of an expression, itself first."""
    waiting: list[object] = [expression]
    while waiting:
        node = waiting.pop()
        if isinstance(node, tuple):
            waiting += reversed(node)
        elif isinstance(node, Typed):
            yield node
            waiting += [getattr(node, f.name) for f in reversed(dataclasses.fields(node))]


def readings_of(expressions: Iterable[Expression]) -> Readings:
    readings = Readings()
    for expression in expressions:
        for node in leaves(expression):
            _note(node, readings)
    return readings


def _note(node: Typed, readings: Readings) -> None:
    match node:
        case TagValue(tag=tag):
            readings.tags.add(tag)
            readings.spans.append((tag, node.span))
        case StageOutput(stage=stage) | StageReading(stage=stage):
            readings.stages.add(stage)
            readings.spans.append((stage, node.span))
        case PowerUp() | Scanning():
            readings.power = True
            readings.spans.append(("power_up" if isinstance(node, PowerUp) else "scanning", node.span))
        case PartReading(key=key):
            readings.plant.add(key)
