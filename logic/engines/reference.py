"""The reference engine: the definition of what a program does.

It reads the typed tree element by element, exactly by `semantics.md`, and follows the seven
steps of an instant in `contract.py`, numbered below. Clarity comes before speed.
"""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.logic.engines.contract import Outcome, Trace
from rungproof.logic.engines.monitors import AssumptionWatch, ExpectationWatch, Monitor
from rungproof.logic.engines.observer import Observer
from rungproof.logic.engines.reference_control import Control, Mode, Seen
from rungproof.logic.engines.reference_environment import Environment
from rungproof.logic.engines.reference_expressions import Moment
from rungproof.logic.engines.reference_plant import Machine, powered
from rungproof.logic.engines.trace import add_row
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar


class ReferenceEngine:
    """An engine, see `contract.Engine`. Raises `ValueError` for a story that is none of the
    program, and for a requirement to watch that it has not. An `observer` is told what happens."""

    def __init__(self, observer: Observer | None = None) -> None:
        self.observer = observer

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
        """Run `story` and judge every requirement in `watch` (all if None)."""
        run = Run(program, story, watchers_of(program, watch), scenario, record)
        run.show_to(self.observer)
        run.go(stop_at_violation)
        return run.outcome()


def watchers_of(program: Program, watch: frozenset[str] | None) -> list[Monitor]:
    names = {requirement.name for requirement in program.requirements}
    if watch is not None and not watch <= names:
        raise ValueError(f"there is no requirement {', '.join(sorted(watch - names))}")
    return [Monitor(each) for each in program.requirements if watch is None or each.name in watch]


class Run:
    """One run, instant by instant."""

    def __init__(
        self, program: Program, story: Story, monitors: list[Monitor], scenario: int | None, record: bool
    ) -> None:
        self.program, self.story, self.monitors = program, story, monitors
        self.environment = Environment(program, story)
        self.control = Control(program.controller, dict(story.parameters)) if program.controller is not None else None
        tags = program.controller.tags if program.controller is not None else {}
        self.machine = Machine(program.plant, tags) if program.plant is not None else None
        self.step = program.plant.tick if program.plant is not None else 1
        self.assumptions = [AssumptionWatch(each) for each in program.assumptions]
        expected = program.scenarios[scenario].expectations if scenario is not None else ()
        self.expectations = [ExpectationWatch(each) for each in expected]
        self.trace = Trace() if record else None
        self.look: dict[str, Scalar] = {}
        self.broken: tuple[int, int] | None = None
        self.ended_at = 0
        self.whole = False
        self.observer: Observer | None = None

    def show_to(self, observer: Observer | None) -> None:
        """Let `observer`, if any, see the run; before it begins."""
        self.observer = observer
        if observer is not None and self.control is not None:
            self.control.scanner.noted = {}
        if observer is not None and self.machine is not None:
            self.machine.noted = {}

    def go(self, stop_at_violation: bool) -> None:
        t: int | None = 0
        while t is not None:
            t = self.instant(t, stop_at_violation)

    def instant(self, t: int, stop_at_violation: bool = False) -> int | None:
        """One instant, all seven steps. Gives the time of the next one, None where the run is over."""
        at_scan = self.arrive(t)
        if t > 0 and not self.observe(t, at_scan):
            return None
        if stop_at_violation and any(monitor.violated_at is not None for monitor in self.monitors):
            return None
        if t > 0 and t >= self.story.duration_ms:
            self.whole = True
            return None
        return self.leave(t)

    def arrive(self, t: int) -> bool:
        """Steps 1 to 3. Says whether `t` is an instant for requirements on tags alone."""
        environment, control = self.environment, self.control
        environment.advance(t)  # 1
        if self.machine is not None:
            self.look = self.machine.look(environment.values)  # 2
        if control is None or t < control.boundary:
            return False
        mode = self._mode()
        return control.enter(mode, environment.free, memory_lost=environment.values["controller!memory_lost"])  # 3

    def _mode(self) -> Mode:
        env = self.environment.values
        plant = self.program.plant
        on = not env["controller!cut"] if plant is None else powered(plant, self.look, env)
        if not on:
            return "off"
        if env["controller!stopped"]:
            return "stopped"
        return "hung" if env["controller!hung"] else "running"

    def observe(self, t: int, at_scan: bool) -> bool:
        """Step 4. False where an assumption breaks: then nobody else looks at `t`."""
        kinds = {"scan": at_scan, "tick": self.machine is not None}
        if not any(kinds.values()):
            return True
        moment = self._moment()
        for index, watch in enumerate(self.assumptions):
            if kinds[watch.assumption.instants] and not watch.holds(moment):
                self.broken = (index, t)
                return False
        for monitor in self.monitors:
            if kinds[monitor.requirement.instants]:
                monitor.look(t, moment)
        for expectation in self.expectations:
            expectation.look(t, moment)
        self.ended_at = t
        if self.trace is not None:
            add_row(self.trace, t, self._visible(), self.look)
        if self.observer is not None:
            self.observer.instant(t, moment, at_scan)
        return True

    def _moment(self) -> Moment:
        seen = self.control.seen if self.control is not None else Seen()
        return Moment(
            seen.tags,
            seen.stages,
            {**self.environment.values, **self.look},
            power_up=seen.power_up,
            scanning=seen.scanning,
        )

    def leave(self, t: int) -> int:
        """Steps 5 to 7. Gives the time of the next boundary."""
        control, machine = self.control, self.machine
        if control is not None and t >= control.boundary:
            self._begin_scan(control, t)  # 5
        if machine is not None:
            held = control.held if control is not None else {}
            machine.tick(self.look, self.environment.values, held)  # 6, 7
            if self.observer is not None and machine.noted is not None:
                self.observer.circuits(t, dict(machine.noted))
            return t + self.step
        return control.boundary if control is not None else t + self.step

    def _begin_scan(self, control: Control, t: int) -> None:
        if not control.scanning:
            control.wait(t + self.step, t)
            return
        values = self.environment.values
        if self.machine is not None:
            inputs: Mapping[str, Scalar] = self.machine.read(self.look, values, control.scanner.tags)
        else:
            inputs = {name: values[name] for name, tag in control.controller.tags.items() if tag.role == "input"}
        conducting = control.begin_scan(t, inputs, self.environment.scan_length(control.scans))
        if self.trace is not None:
            self.trace.scan_starts.append(t)
            self.trace.conducting.append(conducting)
        if self.observer is not None and control.scanner.noted is not None:
            self.observer.scan(t, dict(control.scanner.noted), conducting)

    # ----------------------------------------------------------------- results

    def _visible(self) -> dict[str, Scalar]:
        """Tags and stages as visible, by the names that files use."""
        return self.control.visible() if self.control is not None else {}

    def outcome(self) -> Outcome:
        return Outcome(
            judgements={monitor.requirement.name: monitor.judgement() for monitor in self.monitors},
            expectations=tuple(each.met(self.whole, self.story.duration_ms) for each in self.expectations),
            ended_at=self.ended_at,
            scans=self.control.scans if self.control is not None else 0,
            assumption_broken=self.broken,
            final={**self._visible(), **self.look},
            trace=self.trace,
        )
