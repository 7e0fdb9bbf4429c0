"""A run of the reference engine with every scan kept, so that any of them can be looked at again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from rungproof.logic.engines.reference import Run
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_scan import Conducting, Scanner
from rungproof.logic.engines.reference_stages import StageState
from rungproof.logic.meaning.program import Controller, Output, Program, Rung, Stage, Story
from rungproof.logic.meaning.typed import Expression, Scalar


@dataclass(frozen=True, slots=True)
class Kept:
    """A controller as a scan began, its inputs read; and its tags and stages as the scan left them."""

    tags: Mapping[str, Scalar]
    stages: Mapping[str, StageState]
    memory: Mapping[str, object]
    first: bool
    dt_ms: int
    tags_after: Mapping[str, Scalar]
    stages_after: Mapping[str, StageState]


@dataclass
class RecordingScanner(Scanner):
    """A scanner that keeps what every scan began with and left."""

    kept: list[Kept] = field(init=False, default_factory=list)

    def scan(self, inputs: Mapping[str, Scalar], dt_ms: int) -> Conducting:
        tags, stages, memory = {**self.tags, **inputs}, dict(self.stages), dict(self.memory)
        first = self.first
        conducting = super().scan(inputs, dt_ms)
        self.kept.append(Kept(tags, stages, memory, first, dt_ms, dict(self.tags), dict(self.stages)))
        return conducting


@dataclass(frozen=True, slots=True)
class Write:
    """One output of one rung in a scan: the power that reached it, its tag's value after it."""

    rung: Rung
    output: Output
    power: bool
    value: Scalar


@dataclass(frozen=True, slots=True)
class Looked:
    """A condition in a scan, taken apart: its value and those of what it is made of."""

    expression: Expression
    value: Any
    parts: tuple[Looked, ...] = ()


@dataclass(slots=True)
class SceneOfScan:
    """One scan solved again, with everything in it written down.

    `passed`: by rung, the power after each element, the left rail first. `looked`: by rung and
    element (stages have none). `when`: by rung and output. `writes`: in the order they happened.
    """

    passed: dict[str, list[bool]] = field(default_factory=dict)
    looked: dict[tuple[str, int], Looked] = field(default_factory=dict)
    when: dict[tuple[str, int], Looked] = field(default_factory=dict)
    value: dict[tuple[str, int], Looked] = field(default_factory=dict)
    writes: list[Write] = field(default_factory=list)


@dataclass
class _Tracing(Scanner):
    scene: SceneOfScan = field(init=False, default_factory=SceneOfScan)

    def _rung(self, rung: Rung, moment: Moment) -> tuple[bool, ...]:
        power, scene = True, self.scene
        passed = scene.passed[rung.name] = [power]
        for place, element in enumerate(rung.elements):
            if isinstance(element, Stage):
                power = self._stage(element, power, moment)
            else:
                looked = scene.looked[rung.name, place] = look(element.expression, moment)
                power = power and bool(looked.value)
            passed.append(power)
        outputs = tuple(self._traced(rung, place, output, power, moment) for place, output in enumerate(rung.outputs))
        return (*passed, *outputs)

    def _traced(self, rung: Rung, place: int, output: Output, power: bool, moment: Moment) -> bool:
        # looked at with copies of the memory of edges: the output itself evaluates them again
        aside = replace(moment, memory=dict(moment.memory))
        if output.when is not None:
            self.scene.when[rung.name, place] = look(output.when, aside)
        if output.value is not None:
            aside.powered = power
            self.scene.value[rung.name, place] = look(output.value, aside)
        reached = self._output(output, power, moment)
        self.scene.writes.append(Write(rung, output, reached, self.tags[output.target]))
        return reached


def look(expression: Expression, moment: Moment) -> Looked:
    """The value of an expression and of all it is made of. Its memory is moved on once, as in a scan."""
    before = dict(moment.memory)
    value = evaluate(expression, moment)
    return Looked(expression, value, _parts(expression, replace(moment, memory=before)))


def _parts(expression: Expression, moment: Moment) -> tuple[Looked, ...]:
    found = []
    for name in ("operand", "operands", "left", "right", "arguments", "measured", "setpoint"):
        each = getattr(expression, name, None)
        if each is not None:
            found += [look(part, moment) for part in (each if isinstance(each, tuple) else (each,))]
    return tuple(found)


class Recording:
    """A whole run kept. `run` holds its trace; `kept` its scans."""

    def __init__(self, program: Program, story: Story) -> None:
        if program.controller is None:
            raise ValueError("there is no controller to be watched")
        self.controller = program.controller
        self.run = Run(replace(program, assumptions=()), story, [], None, record=True)
        control = self.run.control
        assert control is not None, "a program with a controller has it in its runs"
        scanner = RecordingScanner(program.controller, dict(story.parameters))
        control.scanner = scanner
        self.run.go(stop_at_violation=False)
        self.kept = scanner.kept
        assert self.run.trace is not None, "a recorded run has a trace"
        self.trace = self.run.trace
        self.begins = self.trace.scan_starts
        self.last = self.trace.times[-1] if self.trace.times else story.duration_ms
        #: Whether the controller solves no scan as the run ends: what is visible is no scan's work.
        self.dead = control.mode != "running"
        self._shown = control.visible()
        overruns = (event for event in story.events if event.key == "controller!overrun")
        self._overruns = sorted(overruns, key=lambda event: event.at_ms)
        self._scenes: dict[int, SceneOfScan] = {}

    def ends(self, scan: int) -> int:
        """When a scan ends and what it did becomes visible (ms)."""
        begun = self.begins[scan]
        over = [event.value for event in self._overruns if event.at_ms <= begun]
        return begun + self.run.environment.length_of(scan, overrun=bool(over and over[-1]))

    def last_scan(self) -> int | None:
        """The last scan whose results are visible as the run ends; None if there is none."""
        ended = [scan for scan in range(len(self.begins)) if self.ends(scan) <= self.last]
        return ended[-1] if ended else None

    def scene(self, scan: int) -> SceneOfScan:
        if scan not in self._scenes:
            self._scenes[scan] = _again(self.controller, self.kept[scan])
        return self._scenes[scan]

    def visible(self, name: str) -> Scalar:
        """A tag's or stage's value as visible when the run ends."""
        return self._shown[name]


def _again(controller: Controller, kept: Kept) -> SceneOfScan:
    tracing = _Tracing(controller)
    tracing.tags, tracing.stages = dict(kept.tags), dict(kept.stages)
    tracing.memory, tracing.first = dict(kept.memory), kept.first
    tracing.scan({}, kept.dt_ms)
    return tracing.scene
