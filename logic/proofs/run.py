"""A run of a system, as an engine found it: start values and what was given at every transition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, RUNNING, SCAN_TICKS, STOP, System
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


def completed(system: System, run: Run) -> Run:
    """`run` with every input at every transition: what was left out stands at the low end of its range, as `first_bad`
    has it. In a story it would stand where the program starts it."""
    return replace(run, given=tuple({**least_inputs(system), **given} for given in run.given))


def with_short_outages(system: System, run: Run) -> Run:
    """`run` with no pause longer than it takes to be bad, to a power of ten; as it was where that is bad no more.

    A solver that may choose a pause of any length chooses weeks, and every tick of them is replayed.
    """
    longest = outage_ticks(run)
    limit = 1
    while limit < longest:
        shorter = replace(run, given=tuple(_shortened(given, limit) for given in run.given))
        if first_bad(system, shorter) is not None:
            return shorter
        limit *= 10
    return run


def outage_ticks(run: Run) -> int:
    """Ticks without power, all pauses of a run together."""
    return sum(int(given.get(OUTAGE_TICKS, 1)) for given in run.given)


def _shortened(given: Mapping[str, Scalar], limit: int) -> Mapping[str, Scalar]:
    if given.get(OUTAGE_TICKS, 1) <= limit:
        return given
    return {**given, OUTAGE_TICKS: limit}


def least_inputs(system: System) -> dict[str, Scalar]:
    """Every input at the low end of its range."""
    kinds = {"bool": bool, "int": int, "real": float}
    return {each.name: kinds[each.type](each.low) for each in system.step.inputs.values()}


def story_of(program: Program, system: System, run: Run) -> Story:
    """`run` as a story of a program without a plant: inputs are set as each scan begins."""
    return _Teller(program, system).tell(run)


class _Teller:
    """Puts the transitions of a run one after the other in time."""

    def __init__(self, program: Program, system: System) -> None:
        assert program.controller is not None, "a system has a controller"
        self.controller, self.system = program.controller, system
        self.inputs = [tag.name for tag in program.controller.tags.values() if tag.role == "input"]
        self.standing: dict[str, Scalar] = {CUT: False, STOP: False}
        self.events: list[Event] = []
        self.scans: list[int] = []
        self.now = 0

    def tell(self, run: Run) -> Story:
        one_instant = RUNNING in self.system.step.states or STOP in self.system.step.inputs
        for given in run.given:
            if one_instant:
                self._instant(given)
            else:
                self._scan(given)
                if given.get(CUT, False):
                    self._mode(True, False)
                    self._pause(given)
                    self._mode(False, False)
        parameters = tuple((name, value) for name, value in run.starts.items() if name in self.system.free_starts)
        return Story(self.now, tuple(self.events), parameters, tuple(self.scans))

    def _instant(self, given: Mapping[str, Scalar]) -> None:
        """As a system with stops has it: the end of a scan, or a change while there is none."""
        off, stopped = bool(self.standing[CUT]), bool(self.standing[STOP])
        if off or stopped:
            self._pause(given)
        else:
            self._scan(given)
        to_off = bool(given.get(CUT, False))
        to_stop = bool(given.get(STOP, False)) and not to_off
        self._mode(to_off and not off, to_stop and not stopped)

    def _scan(self, given: Mapping[str, Scalar]) -> None:
        for name in self.inputs:
            if name in given:
                self._set(name, given[name])
        ticks = given.get(SCAN_TICKS, self.controller.scan_low // self.system.tick)
        self.scans.append(int(ticks) * self.system.tick)
        self.now += self.scans[-1]

    def _pause(self, given: Mapping[str, Scalar]) -> None:
        self.now += int(given.get(OUTAGE_TICKS, 1)) * self.system.tick

    def _mode(self, off: bool, stopped: bool) -> None:
        self._set(CUT, off)
        self._set(STOP, stopped)

    def _set(self, key: str, value: Scalar) -> None:
        if key not in self.standing or self.standing[key] != value:
            self.standing[key] = value
            self.events.append(Event(self.now, key, value))
