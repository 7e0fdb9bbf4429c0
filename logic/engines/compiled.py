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

from rungproof.logic.engines.chance import uniform
from rungproof.logic.engines.compiled_loop import write_run
from rungproof.logic.engines.contract import Judgement, Outcome, Trace
from rungproof.logic.meaning.program import Event, Expectation, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.steps.lowered import LoweredProgram, lower_program
from rungproof.logic.steps.operators import divide_int, divide_real, root
from rungproof.logic.steps.run_plan import RunPlan, Shape, freed_name, plan_run
from rungproof.logic.steps.run_slice import showing

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

    def __init__(self, program: Program, asked_only: bool) -> None:
        self.program, self.asked_only = program, asked_only
        self.lowered: LoweredProgram = lower_program(program)
        self.shapes: OrderedDict[Shape, _Ready] = OrderedDict()

    def ready(self, shape: Shape) -> _Ready:
        found = self.shapes.get(shape)
        if found is None:
            plan = plan_run(self.lowered, shape)
            if self.asked_only and not shape.record:
                plan = showing(plan, ())
            source = write_run(plan, shape)
            found = _Ready(plan, source, compiled_function(source))
            self.shapes[shape] = found
            if len(self.shapes) > SHAPES_KEPT:
                self.shapes.popitem(last=False)
        else:
            self.shapes.move_to_end(shape)
        return found


_functions: OrderedDict[str, Callable[..., Any]] = OrderedDict()


def compiled_function(source: str) -> Callable[..., Any]:
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


class _Sampled(list[tuple[Scalar, ...]]):
    """Rows of a record, of which only every so often one is kept. The first column is the time (ms)."""

    def __init__(self, every_ms: int) -> None:
        super().__init__()
        self._every_ms = every_ms

    def append(self, row: tuple[Scalar, ...]) -> None:
        if row[0] % self._every_ms == 0:
            super().append(row)


class CompiledEngine:
    """`contract.Engine` by generated Python. `asked_only`: what nothing asked about hangs on is left
    out, and `Outcome.final` is empty, unless a run is recorded; much less is then generated."""

    def __init__(self, asked_only: bool = False) -> None:
        self._asked_only = asked_only
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
        every_ms: int = 1,
    ) -> Outcome:
        """One run; see `contract.py`. Raises `ValueError` for a story that is none of the program.

        `every_ms`: of what is recorded, only the instants that are a multiple of it are kept, so that hours fit.
        """
        shape = shape_of(program, story, watch, scenario=scenario, record=record, stop_at_violation=stop_at_violation)
        ready = self._prepared(program).ready(shape)
        rows: list[tuple[Scalar, ...]] = [] if every_ms == 1 else _Sampled(every_ms)
        starts: list[int] = []
        values = initial_values(program, story, ready.plan)
        events = run_events(program, story, ready.plan)
        duration = max(story.duration_ms, 1)
        found = ready.run(values, events, story_lengths(program, story), duration, _draws(story), rows, starts)
        return _outcome(ready.plan, found, rows, starts, record, lasted=duration)

    def source(self, program: Program, story: Story, watch: frozenset[str] | None = None) -> str:
        """The generated source for runs of this kind, to read."""
        return self._prepared(program).ready(shape_of(program, story, watch)).source

    def _prepared(self, program: Program) -> _Prepared:
        found = self._programs.get(id(program))
        if found is None or found.program is not program:
            found = self._programs[id(program)] = _Prepared(program, self._asked_only)
            if len(self._programs) > PROGRAMS_KEPT:
                self._programs.popitem(last=False)
        return found


def shape_of(
    program: Program,
    story: Story,
    watch: frozenset[str] | None,
    *,
    scenario: int | None = None,
    record: bool = False,
    stop_at_violation: bool = False,
) -> Shape:
    """The shape of a run; cuts that the story leaves alone cannot move in it, and faults neither.

    But where one fault moves, all may: so that one function serves the runs with every fault in turn.
    """
    wanted = frozenset(r.name for r in program.requirements) if watch is None else watch
    unknown = [event.key for event in story.events if event.key not in program.knobs]
    unknown += [key for key, _ in story.parameters if key not in program.knobs]
    unknown += sorted(wanted - {r.name for r in program.requirements})
    if unknown:
        raise ValueError(f"nothing in the program is called {', '.join(f'`{key}`' for key in unknown)}")
    touched = {event.key for event in story.events} | {key for key, _ in story.parameters}
    faulty = any(program.knobs[key].kind == "fault" for key in touched)
    fixed = ("power", "stop") if faulty else ("fault", "power", "stop")
    moving = frozenset(key for key, knob in program.knobs.items() if key in touched or knob.kind not in fixed)
    free = frozenset(key for key in touched if program.knobs[key].kind == "free output")
    return Shape(wanted, scenario, moving, free, record, stop_at_violation)


_CAST: dict[str, Callable[[Any], Scalar]] = {"bool": bool, "int": int, "real": float}


def initial_values(program: Program, story: Story, plan: RunPlan) -> list[Scalar]:
    """The values of the moving keys at time 0, before any event."""
    parameters = dict(story.parameters)
    values: list[Scalar] = []
    for node in plan.environment:
        knob = program.knobs.get(node.name)
        value = False if knob is None else parameters.get(node.name, knob.start)
        values.append(_CAST[node.type](value))
    return values


def run_events(program: Program, story: Story, plan: RunPlan) -> list[tuple[int, int, Scalar]]:
    """Events as (time, place in the environment, value), and one that never comes."""
    places = plan.places
    events: list[tuple[int, int, Scalar]] = []
    for event in sorted(story.events, key=_time_of):
        events.append((event.at_ms, places[event.key], _CAST[program.knobs[event.key].type](event.value)))
        if freed_name(event.key) in places:
            events.append((event.at_ms, places[freed_name(event.key)], True))
    return [*events, (NEVER, 0, False)]


def _time_of(event: Event) -> int:
    return event.at_ms


def story_lengths(program: Program, story: Story) -> Iterator[int]:
    """How long each scan of a story takes (ms), without end."""
    if program.controller is None:
        return repeat(1)
    if not story.scans:
        return repeat(program.controller.scan_low)
    return chain(story.scans, repeat(story.scans[-1]))


def _draws(story: Story) -> Callable[[int, int], float]:
    seed, lane = story.seed, story.lane

    def draw(stream: int, index: int) -> float:
        return uniform(seed, lane, stream, index)

    return draw


def _outcome(
    plan: RunPlan,
    found: tuple[Any, ...],
    rows: list[tuple[Scalar, ...]],
    starts: list[int],
    record: bool,
    *,
    lasted: int,
) -> Outcome:
    scans, broken, ended, whole, judged, watched, tags, look = found
    whole = whole and broken is None
    judgements = {
        monitor.name: Judgement(bad, came, stands)
        for monitor, (bad, came, stands) in zip(plan.requirements, judged, strict=True)
    }
    final = dict(zip([*plan.tags, *plan.look], (*tags, *look), strict=True))
    trace = _trace(plan, rows, starts) if record else None
    until = lasted if whole else 0
    expectations = tuple(
        _met(expectation, ended, until, each) for (_, expectation), each in zip(plan.expectations, watched, strict=True)
    )
    return Outcome(judgements, expectations, ended, scans, broken, final, trace)


def _met(expected: Expectation, ended: int, lasted: int, found: tuple[bool | None, bool, bool, bool]) -> bool | None:
    """Whether an expectation was met; None where the run ended too early to say. `lasted`: how long the run went
    on (ms), 0 where it was broken off; after its last instant, `ended`, nothing changes any more."""
    last, seen, missed, inside = found
    if expected.mode == "at end":
        return last if lasted else None
    until = expected.from_ms + expected.time_ms
    if last is not None and ended < until <= lasted:
        seen, missed, inside, ended = seen or last, missed or not last, True, until
    if seen if expected.mode == "within" else missed:
        return expected.mode == "within"
    return expected.mode == "for" if ended >= until and inside else None


def _trace(plan: RunPlan, rows: list[tuple[Scalar, ...]], starts: list[int]) -> Trace:
    if not rows:
        return Trace(scan_starts=starts)
    columns = [list(column) for column in zip(*rows, strict=True)]
    tags = dict(zip(plan.tags, columns[1:], strict=False))
    plant = dict(zip(plan.look, columns[1 + len(plan.tags) :], strict=False))
    times: list[int] = [int(each) for each in columns[0]]
    return Trace(times, tags, plant, starts, [])
