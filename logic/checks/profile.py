"""What a program lets a story do, and which times and values are worth trying in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from rungproof.logic.checks.engine_choice import is_large
from rungproof.logic.checks.expressions import (
    program_expressions,
    requirement_times,
    walk,
    whole_numbers,
)
from rungproof.logic.checks.plant_times import times_of_plant
from rungproof.logic.checks.rest import resting
from rungproof.logic.meaning.program import Knob, Program
from rungproof.logic.meaning.typed import AllOf, Comparison, Constant, Expression, PartReading, Scalar, TagValue

#: Counts are walked through one by one; beyond this no story can reach them by tapping.
_LARGEST_COUNT = 200


Order = Literal["<", "<=", ">", ">=", "=", "<>"]


@dataclass(frozen=True, slots=True)
class Profile:
    """A program as the search sees it.

    `step` is the grid of events (ms), `tick` that of scan times, `scan` the range of scan times, `times` the durations
    (ms) that something in the program waits for, rising; `counts` the counts something waits
    for. Knobs are sorted by what can be done with them: `switches` are on or off and moved by
    people or the process, `numbers` have values. `values` holds what is worth trying for each
    number, the start first; `assumed` the range that the assumptions leave it, where they bound
    it directly; `rest` the state of each switch in which nothing happens; `noisy` says whether
    the noise generator's lane matters; `pattern` names the truths and counts that tell where a run got to.
    """

    step: int
    tick: int
    scan: tuple[int, int]
    times: tuple[int, ...]
    counts: tuple[int, ...]
    switches: tuple[str, ...]
    numbers: tuple[str, ...]
    powers: tuple[str, ...]
    stops: tuple[str, ...]
    faults: tuple[str, ...]
    parameters: tuple[str, ...]
    frees: tuple[str, ...]
    values: dict[str, tuple[Scalar, ...]]
    assumed: dict[str, tuple[int | float, int | float]]
    rest: dict[str, bool]
    noisy: bool
    pattern: frozenset[str]
    knobs: dict[str, Knob]

    def times_up_to(self, ms: int) -> tuple[int, ...]:
        """The interesting times that fit in a run of `ms`."""
        return tuple(time for time in self.times if time <= ms)


def profile_of(program: Program) -> Profile:
    """Read a program's profile. Nothing is run."""
    controller, plant = program.controller, program.plant
    scan = (controller.scan_low, controller.scan_high) if controller else (plant.tick, plant.tick) if plant else (1, 1)
    knobs = program.knobs
    moved = [knob for knob in knobs.values() if knob.kind in ("tag", "operator", "disturbance")]
    settable = [knob for knob in knobs.values() if knob.type != "bool" or knob.kind in ("parameter", "free output")]
    return Profile(
        step=program.instant_ms,
        tick=plant.tick if plant else 1,
        scan=scan,
        times=tuple(sorted(_times(program))),
        counts=tuple(sorted(_counts(program))),
        switches=tuple(knob.key for knob in moved if knob.type == "bool"),
        numbers=tuple(knob.key for knob in moved if knob.type != "bool"),
        powers=_of_kind(knobs.values(), "power"),
        stops=_of_kind(knobs.values(), "stop"),
        # a controller that stops is a fault like any other: no search of a whole machine stops it
        # and what the author leaves out of account is no fault
        faults=tuple(
            key
            for key in _of_kind(knobs.values(), "fault") + _of_kind(knobs.values(), "stop")
            if key not in program.excluded
        ),
        parameters=_of_kind(knobs.values(), "parameter"),
        frees=_of_kind(knobs.values(), "free output"),
        values={knob.key: _worth_trying(program, knob) for knob in settable},
        assumed={knob.key: _assumed_range(program, knob) for knob in settable},
        rest=resting(program),
        noisy=plant is not None and any("~" in key for key in plant.assembly.environment),
        pattern=frozenset(_pattern(program)),
        knobs=knobs,
    )


def _pattern(program: Program) -> Iterator[str]:
    """Every truth but what a story sets itself, and what counters hold; nothing of a large program."""
    if is_large(program):
        return
    if program.controller is not None:
        tags = program.controller.tags.values()
        yield from (tag.name for tag in tags if tag.type == "bool" and tag.name not in program.knobs)
        for stage in program.controller.stages.values():
            yield stage.name
            if stage.kind.startswith("count"):
                yield f"{stage.name}.count"
    if program.plant is not None:
        outputs = program.plant.assembly.outputs
        yield from (key for key, output in outputs.items() if output.type == "bool" and key not in program.knobs)


def _of_kind(knobs: Iterable[Knob], kind: str) -> tuple[str, ...]:
    return tuple(knob.key for knob in knobs if knob.kind == kind)


def _times(program: Program) -> set[int]:
    """Presets of timers, times of requirements, delays of parts, in ms."""
    found: set[int] = set()
    for stage in program.controller.stages.values() if program.controller else ():
        if stage.kind in ("on-delay", "off-delay", "pulse", "accumulating on-delay"):
            found |= whole_numbers(program, stage.preset)
    for requirement in program.requirements:
        found |= requirement_times(program, requirement)
    return {time for time in found if time >= 1} | (times_of_plant(program.plant) if program.plant else set())


def _counts(program: Program) -> set[int]:
    found: set[int] = set()
    for stage in program.controller.stages.values() if program.controller else ():
        if stage.kind in ("count-up", "count-down"):
            found |= whole_numbers(program, stage.preset)
    for requirement in program.requirements:
        found.add(getattr(requirement.form, "count", 0))
    return {count for count in found if 1 <= count <= _LARGEST_COUNT}


def _worth_trying(program: Program, knob: Knob) -> tuple[Scalar, ...]:
    """Start, ends, middle, and what the program compares it with, next values on each side too.

    All of them as far as the assumptions leave them.
    """
    if knob.type == "bool":
        return (knob.start, not knob.start)
    low, high = _assumed_range(program, knob)
    whole = knob.type == "int"
    middle = (low + high) // 2 if whole else (low + high) / 2
    near = sorted(_compared_with(program, knob.key))
    tried: list[Scalar] = [knob.start, low, high, middle]
    for value in near:
        tried += [value, value - 1, value + 1] if whole else [value]
    return tuple(dict.fromkeys(_as(knob, value) for value in tried if low <= value <= high)) or (knob.start,)


def _as(knob: Knob, value: Scalar) -> Scalar:
    return int(value) if knob.type == "int" else float(value)


def _compared_with(program: Program, key: str) -> set[int | float]:
    found: set[int | float] = set()
    for whole in program_expressions(program):
        for expression in walk(whole):
            if isinstance(expression, Comparison):
                for side, other in ((expression.left, expression.right), (expression.right, expression.left)):
                    if _names(side, key) and isinstance(other, Constant):
                        found.add(other.value)
    return found


def _names(expression: Expression, key: str) -> bool:
    match expression:
        case PartReading(key=name) | TagValue(tag=name):
            return name == key
        case _:
            return False


def _assumed_range(program: Program, knob: Knob) -> tuple[int | float, int | float]:
    """The knob's range as far as the assumptions leave it, where they bound it directly."""
    low, high = knob.low, knob.high
    for assumption in program.assumptions:
        for bound in _conjuncts(assumption.condition):
            if not isinstance(bound, Comparison):
                continue
            left, right, operator = bound.left, bound.right, bound.operator
            if isinstance(left, Constant):
                left, right = right, left
                operator = _FLIPPED.get(operator, operator)
            if _names(left, knob.key) and isinstance(right, Constant):
                if operator in ("<", "<="):
                    high = min(high, right.value)
                elif operator in (">", ">="):
                    low = max(low, right.value)
    return (low, high) if low <= high else (knob.low, knob.high)


_FLIPPED: dict[Order, Order] = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}


def _conjuncts(expression: Expression) -> list[Expression]:
    if isinstance(expression, AllOf):
        return [part for operand in expression.operands for part in _conjuncts(operand)]
    return [expression]
