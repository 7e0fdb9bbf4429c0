"""The compiled engine: a program as one generated Python function per shape of run.

Gives the same outcome as the reference engine, to the last bit, many times faster; only
`Trace.conducting` is the reference engine's alone and stays empty here.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain, repeat
from typing import Any

from rungproof.logic.engines.compiled_loop import write_run
from rungproof.logic.engines.compiled_plan import RunPlan, Shape, plan_run
from rungproof.logic.engines.contract import Judgement, Outcome, Trace
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.steps.lowered import LoweredProgram, lower_program
from rungproof.logic.steps.operators import divide_int, divide_real, root

#: No event comes after this time (ms).
NEVER = 2**62

#: How many programs, and how many shapes of each, are kept ready.
PROGRAMS_KEPT, SHAPES_KEPT = 64, 64


@dataclass(frozen=True, slots=True)
class _Ready:
    """A generated run with what is needed to call it."""

    plan: RunPlan
    source: str
    run: Callable[..., Any]


class _Prepared:
    """A program lowered, and its runs as far as they have been generated."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.lowered: LoweredProgram = lower_program(program)
        self.shapes: OrderedDict[Shape, _Ready] = OrderedDict()

    def ready(self, shape: Shape) -> _Ready:
        found = self.shapes.get(shape)
        if found is None:
            plan = plan_run(self.lowered, shape)
            source = write_run(plan, shape)
            found = _Ready(plan, source, _function(source))
            self.shapes[shape] = found
            if len(self.shapes) > SHAPES_KEPT:
                self.shapes.popitem(last=False)
        else:
            self.shapes.move_to_end(shape)
        return found


_functions: OrderedDict[str, Callable[..., Any]] = OrderedDict()


def _function(source: str) -> Callable[..., Any]:
    """The function of a source, compiled once per content."""
    found = _functions.get(source)
    if found is None:
        scope: dict[str, Any] = {
            "_divide": divide_real,
            "_div": divide_int,
            "_root": root,
            "_abs": abs,
            "_round": round,
            "_trunc": int,
            "_float": float,
        }
        exec(compile(source, "<compiled run>", "exec"), scope)  # the source is ours alone, made from nodes
        found = scope["run"]
        _functions[source] = found
        if len(_functions) > PROGRAMS_KEPT * 4:
            _functions.popitem(last=False)
    return found


class CompiledEngine:
    """`contract.Engine` by generated Python."""

    def __init__(self) -> None:
        self._programs: OrderedDict[int, _Prepared] = OrderedDict()

    def run(
        self,
        program: Program,
        story: Story,
        *,
        watch: frozenset[str] | None = None,
        scenario: int | None = None,
        record: bool = False,
        stop_at_violation: bool = False,
    ) -> Outcome:
        """One run; see `contract.py`. Raises `KeyError` for a key that is no knob of the program."""
        shape = _shape(program, story, watch, scenario=scenario, record=record, stop_at_violation=stop_at_violation)
        ready = self._prepared(program).ready(shape)
        rows: list[tuple[Scalar, ...]] = []
        starts: list[int] = []
        values = _environment(program, story, ready.plan)
        events = _events(program, story, ready.plan)
        found = ready.run(values, events, _lengths(program, story), story.duration_ms, _draws(story), rows, starts)
        return _outcome(ready.plan, found, rows, starts, record)

    def source(self, program: Program, story: Story, watch: frozenset[str] | None = None) -> str:
        """The generated source for runs of this kind, to read."""
        return self._prepared(program).ready(_shape(program, story, watch)).source

    def _prepared(self, program: Program) -> _Prepared:
        found = self._programs.get(id(program))
        if found is None or found.program is not program:
            found = self._programs[id(program)] = _Prepared(program)
            if len(self._programs) > PROGRAMS_KEPT:
                self._programs.popitem(last=False)
        return found


def _shape(
    program: Program,
    story: Story,
    watch: frozenset[str] | None,
    *,
    scenario: int | None = None,
    record: bool = False,
    stop_at_violation: bool = False,
) -> Shape:
    """The shape of a run; faults and cuts that the story leaves alone cannot move in it."""
    wanted = frozenset(r.name for r in program.requirements) if watch is None else watch
    touched = {event.key for event in story.events} | {key for key, _ in story.parameters}
    moving = frozenset(
        key for key, knob in program.knobs.items() if key in touched or knob.kind not in ("fault", "power", "stop")
    )
    free = frozenset(key for key in touched if program.knobs[key].kind == "free output")
    return Shape(wanted, scenario, moving, free, record, stop_at_violation)


_CAST: dict[str, Callable[[Any], Scalar]] = {"bool": bool, "int": int, "real": float}


def _environment(program: Program, story: Story, plan: RunPlan) -> list[Scalar]:
    """The values of the moving keys at time 0, before any event."""
    parameters = dict(story.parameters)
    values = []
    for node in plan.environment:
        knob = program.knobs[node.name]
        values.append(_CAST[knob.type](parameters.get(node.name, knob.start)))
    return values


def _events(program: Program, story: Story, plan: RunPlan) -> list[tuple[int, int, Scalar]]:
    """Events as (time, place in the environment, value), and one that never comes."""
    place = {node.name: index for index, node in enumerate(plan.environment)}
    events = [(e.at_ms, place[e.key], _CAST[program.knobs[e.key].type](e.value)) for e in story.events]
    return [*sorted(events, key=lambda event: event[0]), (NEVER, 0, False)]


def _lengths(program: Program, story: Story) -> Iterator[int]:
    if program.controller is None:
        return repeat(1)
    if not story.scans:
        return repeat(program.controller.scan_low)
    return chain(story.scans, repeat(story.scans[-1]))


def _draws(story: Story) -> Callable[[str, int], float]:
    def draw(key: str, index: int) -> float:
        raise NotImplementedError(f"no draws yet: {key} {index} {story.seed}")

    return draw


def _outcome(
    plan: RunPlan, found: tuple[Any, ...], rows: list[tuple[Scalar, ...]], starts: list[int], record: bool
) -> Outcome:
    _, scans, broken, ended, judged, met, tags, look = found
    judgements = {
        monitor.name: Judgement(bad, came, stands)
        for monitor, (bad, came, stands) in zip(plan.requirements, judged, strict=True)
    }
    names = [*plan.tags, *plan.look]
    final = dict(zip(names, (*tags, *look), strict=True))
    trace = _trace(plan, rows, starts) if record else None
    expectations = tuple(met)
    return Outcome(judgements, expectations, ended, scans, broken, final, trace)


def _trace(plan: RunPlan, rows: list[tuple[Scalar, ...]], starts: list[int]) -> Trace:
    columns = [list(column) for column in zip(*rows, strict=True)] or [[] for _ in range(1 + len(plan.tags))]
    tags = dict(zip(plan.tags, columns[1:], strict=False))
    plant = dict(zip(plan.look, columns[1 + len(plan.tags) :], strict=False))
    times: list[int] = [int(each) for each in columns[0]]
    return Trace(times, tags, plant, starts, [])
