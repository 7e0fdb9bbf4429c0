"""A run of a system, as an engine found it: start values and what was given at every transition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, SCAN_TICKS, System
from rungproof.logic.steps.operators import Scalar


@dataclass(frozen=True)
class Run:
    """`starts` holds values of free starts; `given` the inputs of each transition. What is missing
    plays no part and stands at its start, or at the low end of its range."""

    starts: Mapping[str, Scalar]
    given: tuple[Mapping[str, Scalar], ...]


def first_bad(system: System, run: Run) -> int | None:
    """The first transition of `run` (from 0) that shows `bad`, by plain evaluation; None if none does."""
    state = {**{s.name: s.start for s in system.step.states.values()}, **run.starts}
    for place, given in enumerate(run.given):
        state, shown = transition(system.step, state, {**least_inputs(system), **given})
        if shown[system.bad]:
            return place
    return None


def least_inputs(system: System) -> dict[str, Scalar]:
    """Every input at the low end of its range."""
    kinds = {"bool": bool, "int": int, "real": float}
    return {each.name: kinds[each.type](each.low) for each in system.step.inputs.values()}


def story_of(program: Program, system: System, run: Run) -> Story:
    """`run` as a story of a program without a plant: inputs are set as each scan begins."""
    controller = program.controller
    assert controller is not None, "a system has a controller"
    inputs = [tag.name for tag in controller.tags.values() if tag.role == "input"]
    standing: dict[str, Scalar] = {}
    events: list[Event] = []
    scans: list[int] = []
    now = 0
    for given in run.given:
        events += [Event(now, name, given[name]) for name in inputs if name in given and _moves(standing, name, given)]
        scans.append(int(given.get(SCAN_TICKS, controller.scan_low // system.tick)) * system.tick)
        now += scans[-1]
        if given.get(CUT, False):
            events.append(Event(now, CUT, True))
            now += int(given.get(OUTAGE_TICKS, 1)) * system.tick
            events.append(Event(now, CUT, False))
    parameters = tuple((name, value) for name, value in run.starts.items() if name in system.free_starts)
    return Story(now, tuple(events), parameters, tuple(scans))


def _moves(standing: dict[str, Scalar], name: str, given: Mapping[str, Scalar]) -> bool:
    moved = name not in standing or standing[name] != given[name]
    standing[name] = given[name]
    return moved
