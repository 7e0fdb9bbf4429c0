"""From a run of a plant's system, tick by tick, to stories that the reference engine can replay.

Amounts are as the plant has them, not as the run has them: whether it is bad all the same, the replay says.
"""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.checks.stories import tidy
from rungproof.logic.meaning.program import Event, Program, Requirement, Story
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.run import Run, least_inputs
from rungproof.logic.proofs.system import System
from rungproof.logic.proofs.system_loop import FAILS, WHICH, loop_faults
from rungproof.logic.steps.closed_loop import LEFT, RUNNING, SCAN_TICKS
from rungproof.logic.steps.lowered import SEEN
from rungproof.logic.steps.operators import Scalar


def stories_of_ticks(program: Program, run: Run, tick: int) -> Iterator[Story]:
    """A run of a plant's system as stories: people, power and the world as in the run; outputs set by hand as in
    the run, or from the start on at the most that they had in it."""
    events: list[Event] = []
    outputs: dict[str, Scalar] = {}
    for place, given in enumerate(run.given):
        for key, value in given.items():
            if key in program.knobs and program.knobs[key].kind != "free output":
                events.append(Event(place * tick, key, value))
            elif key.startswith(SEEN) and key.removeprefix(SEEN) in program.knobs:
                outputs[key.removeprefix(SEEN)] = max(value, outputs.get(key.removeprefix(SEEN), value))
                events.append(Event(place * tick, key.removeprefix(SEEN), value))
    parameters = tuple((key, value) for key, value in run.starts.items() if key in program.knobs)
    duration = (len(run.given) + 2) * tick
    yield tidy(program, Story(duration, tuple(events), parameters))
    steady = [each for each in events if each.key not in outputs]
    steady += [Event(0, key, value) for key, value in outputs.items()]
    yield tidy(program, Story(duration, tuple(sorted(steady, key=lambda each: each.at_ms)), parameters))


def story_of_loop(program: Program, requirement: Requirement, system: System, run: Run) -> Story:
    """A run of a system with the program in the loop as a story: people, power, the world, the fault, and how long
    each scan takes."""
    failing = dict(enumerate(loop_faults(program, requirement), 1)).get(int(run.starts.get(WHICH, 0)))
    events: list[Event] = []
    scans: list[int] = []
    state = {**{each.name: each.start for each in system.step.states.values()}, **run.starts}
    for place, given in enumerate(run.given):
        at = place * system.tick
        events += [Event(at, key, value) for key, value in given.items() if key in program.knobs]
        if failing is not None and FAILS in given:
            events.append(Event(at, failing, given[FAILS]))
        before = state
        state, _ = transition(system.step, state, {**least_inputs(system), **given})
        if before.get(LEFT.name) == 0 and state.get(RUNNING.name) and SCAN_TICKS in given:
            scans.append(int(given[SCAN_TICKS]) * system.tick)
    parameters = tuple((key, value) for key, value in run.starts.items() if key in program.knobs)
    return tidy(program, Story((len(run.given) + 2) * system.tick, tuple(events), parameters, tuple(scans)))


def replayed(
    program: Program, requirement: Requirement, system: System, run: Run, *, looped: bool
) -> tuple[Story, int] | None:
    """A story of `run` that violates in the reference engine, ended there, and when it does (ms); None if none does.

    `looped`: the program is in the system; else its outputs are free, in the system as in the requirement.
    """
    if looped:
        stories = iter((story_of_loop(program, requirement, system, run),))
    elif requirement.outputs_free:
        stories = stories_of_ticks(program, run, system.tick)
    else:
        return None
    for story in stories:
        at = violated_at(reference_engine(), program, story, requirement.name)
        if at is not None:
            return tidy(program, ended_at(story, at)), at
    return None
