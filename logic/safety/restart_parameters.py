"""Whether a change of a parameter starts something that somebody has stopped: tried on the rungs alone.

Parameters are constant in a run of a whole project. So here the plant is left out, its last
readings stand at the inputs, and every parameter becomes an input that somebody turns.
"""

from __future__ import annotations

from dataclasses import replace

from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.meaning.knobs import Surroundings, knobs_of
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.safety.restart_causes import Trial
from rungproof.logic.safety.restart_watch import Moving, counting

#: How long each value stands (ms).
STANDS_MS = 1000


def changed_parameters(program: Program, moving: Moving, trial: Trial) -> list[tuple[str, Scalar, int | None]]:
    """For each parameter and each end of its range: when `moving` comes on after the change, None if it does not.

    The rungs first live through the start and the stop of `trial`, as the plant let them read it.
    """
    parameters = (
        [tag for tag in program.controller.tags.values() if tag.role == "parameter"] if program.controller else []
    )
    if not parameters:
        return []
    alone = counting(_alone(program), (moving,), 1)
    end = trial.gone_ms + STANDS_MS
    lived = _readings(program, replace(trial.story, duration_ms=end))
    found: list[tuple[str, Scalar, int | None]] = []
    for tag in parameters:
        for value in dict.fromkeys((tag.low, tag.high)):
            turned: Scalar = bool(value) if tag.type == "bool" else value
            events = (*lived, Event(end, tag.name, turned), Event(end + STANDS_MS, tag.name, tag.start))
            story = Story(end + 2 * STANDS_MS, events, scans=trial.story.scans)
            engines = (fast_engine(), reference_engine())
            at, again = (e.run(alone, story).judgements[moving.key].violated_at for e in engines)
            if at != again:
                raise RuntimeError(f"{moving.name} restarts at {at} ms, in the reference engine at {again}")
            found.append((tag.name, value, at))
    return found


def _alone(program: Program) -> Program:
    """The rungs without their plant, with every parameter an input."""
    controller = program.controller
    assert controller is not None
    tags = {n: replace(t, role="input") if t.role == "parameter" else t for n, t in controller.tags.items()}
    knobs = knobs_of(Surroundings(tags, None, {}, True))
    return replace(program, controller=replace(controller, tags=tags), plant=None, assumptions=(), knobs=knobs)


def _readings(program: Program, story: Story) -> tuple[Event, ...]:
    """What every input tag read, as events: set at the scan that read it."""
    controller = program.controller
    assert controller is not None
    if program.plant is None:
        return story.events
    trace = fast_engine().run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None
    events: list[Event] = []
    starts = iter(trace.scan_starts)
    read_at, coming = 0, next(starts, None)
    for place, time in enumerate(trace.times):
        while coming is not None and coming < time:
            read_at, coming = coming, next(starts, None)
        for name, tag in controller.tags.items():
            if tag.role == "input":
                column = trace.tags[name]
                if place == 0 or column[place] != column[place - 1]:
                    events.append(Event(read_at, name, column[place]))
    return tuple(sorted(events, key=lambda event: event.at_ms))
