"""Stages lowered: what a timer or a counter remembers, and what power leaves it.

Each function takes the stage's memory before the scan and gives it after, as
`semantics.md` has it under Stages; the memory's names are in `STAGE_MEMORY`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import get_args

from rungproof.grammar.tree import StageKind
from rungproof.logic.steps.node import Node, apply, both, constant, either, inverse, least, most, select

COUNT_HIGHEST, COUNT_LOWEST = 32767, -32768
ZERO, ONE = constant(0), constant(1)


@dataclass(frozen=True, slots=True)
class StageInput:
    """What a stage meets in a scan: power, its preset, what clears or loads it, the time that
    went by, and whether this is the first scan after power-up."""

    power: Node
    preset: Node
    by: Node
    elapsed: Node
    first: Node


@dataclass(frozen=True, slots=True)
class StageMemory:
    """`powered`: power met it in the last scan. `number`: elapsed ms, or the count. `out`: its output."""

    powered: Node
    number: Node
    out: Node


def _reached(number: Node, preset: Node) -> Node:
    return apply("le", preset, number)


def _grown(memory: StageMemory, given: StageInput) -> Node:
    return least(given.preset, apply("add", memory.number, given.elapsed))


def _rise(memory: StageMemory, given: StageInput) -> Node:
    return both(given.power, inverse(memory.powered), inverse(given.first))


def _on_delay(memory: StageMemory, given: StageInput) -> StageMemory:
    goes_on = both(given.power, memory.powered)
    elapsed = select(goes_on, _grown(memory, given), ZERO)
    return StageMemory(given.power, elapsed, both(given.power, _reached(elapsed, given.preset)))


def _off_delay(memory: StageMemory, given: StageInput) -> StageMemory:
    fresh = either(given.power, memory.powered)
    elapsed = select(fresh, ZERO, select(memory.out, _grown(memory, given), memory.number))
    runs = both(memory.out, apply("lt", elapsed, given.preset))
    return StageMemory(given.power, elapsed, either(fresh, runs))


def _pulse(memory: StageMemory, given: StageInput) -> StageMemory:
    rise = _rise(memory, given)
    grown = _grown(memory, given)
    runs_on = both(memory.out, apply("lt", grown, given.preset))
    rested = select(given.power, select(memory.out, given.preset, memory.number), ZERO)
    elapsed = select(runs_on, grown, select(both(rise, inverse(memory.out)), ZERO, rested))
    return StageMemory(given.power, elapsed, either(runs_on, both(rise, inverse(memory.out))))


def _accumulating(memory: StageMemory, given: StageInput) -> StageMemory:
    added = select(both(given.power, memory.powered), _grown(memory, given), memory.number)
    elapsed = select(given.by, ZERO, added)
    return StageMemory(given.power, elapsed, _reached(elapsed, given.preset))


def _count_up(memory: StageMemory, given: StageInput) -> StageMemory:
    risen = least(apply("add", memory.number, ONE), constant(COUNT_HIGHEST))
    count = select(given.by, ZERO, select(_rise(memory, given), risen, memory.number))
    return StageMemory(given.power, count, _reached(count, given.preset))


def _count_down(memory: StageMemory, given: StageInput) -> StageMemory:
    fallen = most(apply("sub", memory.number, ONE), constant(COUNT_LOWEST))
    count = select(given.by, given.preset, select(_rise(memory, given), fallen, memory.number))
    return StageMemory(given.power, count, apply("le", count, ZERO))


def _rising(memory: StageMemory, given: StageInput) -> StageMemory:
    return StageMemory(given.power, memory.number, _rise(memory, given))


STAGES: dict[StageKind, Callable[[StageMemory, StageInput], StageMemory]] = {
    "on-delay": _on_delay,
    "off-delay": _off_delay,
    "pulse": _pulse,
    "accumulating on-delay": _accumulating,
    "count-up": _count_up,
    "count-down": _count_down,
    "rising": _rising,
}
assert set(STAGES) == set(get_args(StageKind)), "lowering must know every stage"

#: The name of a stage's number as contacts read it.
NUMBER_NAME = {kind: "count" if kind.startswith("count") else "elapsed" for kind in STAGES}
