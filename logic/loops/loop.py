"""The loops of a project under a step, a random and a recorded draw-off: what they hold, and at what cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.html import table
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, IN_THE_MODEL
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Trace
from rungproof.logic.loops.figures import Cycle, Holding, Response, cycle, holding, response, starts_per_hour
from rungproof.logic.meaning.program import Event, Program
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.typed import Constant, Pi, TagValue
from rungproof.logic.safety.restart_bases import Base, bases_of
from rungproof.logic.safety.restart_watch import moving_of

Pattern = Literal["step", "random", "recorded"]

#: How long a pattern lasts (ms), how often the course is looked at, how long a random or recorded value stands.
PATTERN_MS, EVERY_MS, STANDS_MS = 3_600_000, 1000, 120_000

HOW = (
    "Each loop is started as its buttons start it. `step`: the draw-off at the lower end of its range for half the "
    "time, then at the upper. `random`: another value every two minutes. `recorded`: the values of the file, spread "
    "over the range. Errors are of the plant's own quantity against the setpoint, over the second half."
)


@dataclass(frozen=True, slots=True)
class Loop:
    """One `pi` of the rungs: its name, the tag it drives, what it measures and holds, and the plant's own quantity."""

    name: str
    output: str
    measured: str
    setpoint: str
    truth: str
    unit: str


@dataclass(frozen=True, slots=True)
class LoopFigures:
    """One loop under one pattern. `begin` is the response to the start, `step` to the step of the draw-off."""

    loop: Loop
    pattern: Pattern
    begin: Response
    step: Response | None
    held: Holding
    starts_per_hour: dict[str, float]
    cycle: Cycle | None

    def to_json(self) -> dict[str, Any]:
        return {
            "loop": self.loop.name,
            "pattern": self.pattern,
            "quantity": self.loop.truth,
            "unit": self.loop.unit,
            "begin": _response_json(self.begin),
            "step": None if self.step is None else _response_json(self.step),
            "mean_error": self.held.mean_error,
            "worst_error": self.held.worst_error,
            "starts_per_hour": self.starts_per_hour,
            "cycle": None if self.cycle is None else {"swing": self.cycle.swing, "period_ms": self.cycle.period_ms},
        }


@dataclass(frozen=True, slots=True)
class LoopResult:
    """All loops of a project. `not_run` says why a loop has no figures."""

    figures: tuple[LoopFigures, ...]
    not_run: tuple[tuple[str, str], ...]

    @property
    def exit_code(self) -> int:
        return EXIT_OPEN if self.not_run else EXIT_FINE

    def to_json(self) -> dict[str, Any]:
        return {"how": HOW, "loops": [each.to_json() for each in self.figures], "not_run": dict(self.not_run)}

    def _repr_html_(self) -> str:
        rows = [
            (
                f.loop.name,
                f.pattern,
                f"{f.held.mean_error:.3g} {f.loop.unit}",
                f"{f.held.worst_error:.3g} {f.loop.unit}",
            )
            for f in self.figures
        ]
        return table(("Loop", "Pattern", "Mean error", "Worst error"), rows, note=f"{IN_THE_MODEL} {HOW}")


def loops_of(program: Program) -> tuple[Loop, ...]:
    """Every `pi` whose measured value is a tag."""
    found = []
    for rung in program.controller.rungs if program.controller is not None else ():
        for output in rung.outputs:
            pi = output.value
            if isinstance(pi, Pi) and isinstance(pi.measured, TagValue):
                unit = pi.measured.unit.symbol if pi.measured.unit is not None else ""
                setpoint = pi.setpoint.tag if isinstance(pi.setpoint, TagValue) else ""
                truth = _truth(program, pi.measured.tag, unit)
                name = pi.slot.rpartition("/")[2] or output.target
                found.append(Loop(name, output.target, pi.measured.tag, setpoint, truth, unit))
    return tuple(found)


def _truth(program: Program, tag: str, unit: str) -> str:
    """The plant's own quantity behind a measured tag: of the part that its transmitter looks at, in the same unit."""
    if program.plant is None or program.controller is None:
        return ""
    sources = {wire.tag: (wire.source or "").partition(".")[0] for wire in program.plant.inputs}
    waiting, seen = [tag], {tag}
    for name in waiting:
        values = [
            o.value for r in program.controller.rungs for o in r.outputs if o.target == name and o.value is not None
        ]
        more = sorted(readings_of(values).tags - seen)
        seen.update(more)
        waiting += more
    parts = {part.name: part for part in program.plant.assembly.parts}
    for name in waiting:
        if name in sources:
            looked = [i.of.partition(".")[0] for i in parts[sources[name]].inputs if i.source == "part"]
            for vessel in looked:
                for output in parts[vessel].outputs:
                    if output.unit == unit:
                        return f"{vessel}.{output.name}"
    return ""


def loop_figures(
    program: Program, *, seed: int = 0, pattern_ms: int = PATTERN_MS, recorded: Sequence[float] = (), band: float = 0.02
) -> LoopResult:
    """Run every loop under each pattern. `band` is the share of the setpoint within which it counts as settled.

    `recorded` are values of any scale, spread over the draw-off's range; without them that pattern is left out.
    """
    loops = loops_of(program)
    if not loops:  # to look for what starts them would take long, and show nothing
        return LoopResult((), ())
    profile = profile_of(program)
    bases = bases_of(program, moving_of(program)).bases
    figures: list[LoopFigures] = []
    not_run: list[tuple[str, str]] = []
    for loop in loops:
        base = next((b for b in bases if b.starts), bases[0] if bases else None)
        drawn = [k for k in profile.numbers if program.knobs[k].kind == "disturbance" and "temperature" not in k]
        if base is None or not loop.truth or not drawn:
            why = "nothing was found that starts it" if base is None else "nothing of the plant can be set against it"
            not_run.append((loop.name, why))
            continue
        patterns: tuple[Pattern, ...] = ("step", "random", "recorded") if recorded else ("step", "random")
        for pattern in patterns:
            trial = _Trial(program, profile, loop, base, pattern, pattern_ms)
            figures.append(trial.figures(trial.events(drawn, seed, recorded), band))
    return LoopResult(tuple(figures), tuple(not_run))


@dataclass(frozen=True, slots=True)
class _Trial:
    """One loop, started by `base`, under one pattern of `length` ms."""

    program: Program
    profile: Profile
    loop: Loop
    base: Base
    pattern: Pattern
    length: int

    def events(self, drawn: list[str], seed: int, recorded: Sequence[float]) -> list[Event]:
        """What the world draws off, on the search's grid."""
        draws, start = SeededDraws(seed, 0), self.base.until_ms
        highest, lowest = max(recorded, default=1.0), min(recorded, default=0.0)
        found = []
        for key in drawn:
            low, high = (float(end) for end in self.profile.assumed[key])
            if self.pattern == "step":
                found += [Event(start, key, low), Event(self._grid(start + self.length // 2), key, high)]
                continue
            for count in range(self.length // STANDS_MS):
                share = draws.below(1001) / 1000
                if self.pattern == "recorded":
                    share = (recorded[count % len(recorded)] - lowest) / ((highest - lowest) or 1.0)
                found.append(Event(self._grid(start + count * STANDS_MS), key, low + share * (high - low)))
        return sorted(found, key=lambda event: event.at_ms)

    def _grid(self, ms: int) -> int:
        return ms - ms % self.profile.step

    def _run(self, events: list[Event]) -> Trace:
        start, drawn = self.base.until_ms, {event.key for event in events}
        kept = [event for event in self.base.story.events if event.key not in drawn]
        buttons = [Event(start, key, False) for key in self.base.starts]
        ordered = tuple(sorted([*kept, *buttons, *events], key=lambda event: event.at_ms))
        story = replace(self.base.story, events=ordered, duration_ms=start + self.length)
        trace = CompiledEngine().run(self.program, story, watch=frozenset(), record=True, every_ms=EVERY_MS).trace
        assert trace is not None
        return trace

    def figures(self, events: list[Event], band: float) -> LoopFigures:
        trace = self._run(events)
        times, values = trace.times, [float(value) for value in trace.plant[self.loop.truth]]
        setpoints = _setpoints(self.program, self.loop, trace)
        start, middle = self.base.until_ms, self.base.until_ms + self.length // 2
        begin = next(place for place, time in enumerate(times) if time >= start)
        half = next(place for place, time in enumerate(times) if time >= middle)
        last = (half + len(values)) // 2
        margin, steps = abs(setpoints[half]) * band, self.pattern == "step"
        rates = {}
        for each in moving_of(self.program):
            column = (trace.tags if each.is_tag else trace.plant)[each.key][begin:]
            rates[each.name] = starts_per_hour(times[begin:], [bool(value) for value in column])
        return LoopFigures(
            self.loop,
            self.pattern,
            response(times[begin:half], values[begin:half], setpoints[half], margin),
            response(times[half:], values[half:], setpoints[half], margin) if steps else None,
            holding(values[half:], setpoints[half:]),
            rates,
            cycle(times[last:], values[last:], margin / 2) if steps else None,
        )


def _setpoints(program: Program, loop: Loop, trace: Trace) -> list[float]:
    if loop.setpoint:
        return [float(value) for value in trace.tags[loop.setpoint]]
    assert program.controller is not None
    pis = [o.value for r in program.controller.rungs for o in r.outputs if o.target == loop.output]
    constants = [pi.setpoint.value for pi in pis if isinstance(pi, Pi) and isinstance(pi.setpoint, Constant)]
    return [float(constants[0]) if constants else 0.0] * len(trace.times)


def _response_json(each: Response) -> dict[str, Any]:
    return {"overshoot": each.overshoot, "peak_error": each.peak_error, "settled_ms": each.settled_ms}
