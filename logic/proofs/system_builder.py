"""What a proof is about: a controller, everything that can meet it, and one requirement, as one Step.

One transition is one scan, read to written, and what the monitors see of it. With `controller!cut`
the power goes during the scan: its outputs are not written, what is not retained is lost, and the
transition ends where power is back, so that monitors look twice: at the cut's start and at its end.

Free at every transition: every input tag within its range, the length of the scan, whether
power goes, and for how long. Free at the start and constant from then on: the parameters. So
a proof covers everything that can feed the inputs, plant and faults included.

Power is there at 0 ms: a story whose power comes late is one that begins late.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rungproof.logic.meaning.program import Controller, Program, Requirement, Tag
from rungproof.logic.steps.controller import ELAPSED, POWER_UP, SCANNING, lower_scan, retained_names, start_of
from rungproof.logic.steps.monitors import INSTANT, lower_condition, lower_requirement
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    constant,
    either,
    inverse,
    select,
    substitute,
    typed_constant,
    variable,
)
from rungproof.logic.steps.operators import INT_LIMIT, REAL_LIMIT, Scalar
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

CUT, STOP = "controller!cut", "controller!stopped"
#: None of these names can be a tag's: each has a space or a mark in it.
#: Inputs of a system, in ticks: the length of the scan, and the time without power after a cut.
SCAN_TICKS, OUTAGE_TICKS = "scan ticks", "outage ticks"
#: States of a system: the next scan is the first after power-up; ms of the scan before;
#: no assumption was broken yet.
FIRST, LAST_SCAN, ASSUMED = "first after power-up", "last scan", "assumptions held"
#: States of a system with stops: the controller scans; it does not, and has power.
RUNNING, STOPPED = "controller scans", "controller stands"
#: Longest time without power (ms) that a system knows.
LONGEST_OUTAGE = 2**31
#: Outputs of a system: some monitor saw a violation, some trigger came.
BAD, TRIGGERED = "bad", "triggered"
#: Before a tag's name: the output that shows it as monitors see it at the first instant of the transition.
SEEN = "seen:"


class UnprovableError(ValueError):
    """Raised where a requirement is none that this package can prove; says why in plain words."""


@dataclass(frozen=True)
class System:
    """A Step whose output `bad` must never come on, from its start on.

    `free_starts` are the states whose start value is any of their range (parameters). `tick` is
    the unit of `SCAN_TICKS` and `OUTAGE_TICKS` in ms. `case`, if there is one, is a whole number with a free start
    that never changes: a proof may go from case to case.
    """

    step: Step
    requirement: str
    tick: int
    bad: str = BAD
    triggered: str = TRIGGERED
    free_starts: frozenset[str] = frozenset()
    case: str = ""

    def starts(self) -> dict[str, Scalar]:
        """The start values, of the states that have one."""
        return {s.name: s.start for s in self.step.states.values() if s.name not in self.free_starts}


def why_not(program: Program, requirement: Requirement) -> str | None:
    """Why a requirement has no system here; None if it has one."""
    if program.controller is None:
        return "there is no controller"
    if requirement.outputs_free:
        return "with its outputs free the program plays no part"
    return None


def beyond_stops(program: Program, requirement: Requirement) -> str | None:
    """Which of a program's faults, beside a stop, could matter to a requirement; None if none of them.

    Inputs are free, so no fault of a wire or a part is left out. But a scan that hangs or overruns is
    longer than any scan of the system, and there what is retained always survives. So what holds in
    the system is no proof where times count, or what is retained.
    """
    controller = program.controller
    if controller is None or not requirement.any_one_fault:
        return None
    monitor, scan = lower_requirement(requirement), lower_scan(controller)
    cone = scan.slice([name for name in scan.outputs if name in monitor.inputs])
    if INSTANT in monitor.inputs or ELAPSED in cone.inputs:
        return "holds with every stop, but a scan may also hang or overrun, and that is not followed where times count"
    if retained_names(controller) & cone.states.keys():
        return "holds with every stop, but what is retained may also be lost, and that is not followed"
    return None


@dataclass
class ScanBuilder:
    """A controller and everything that can meet it, while it is put together: power comes and goes, nothing fails."""

    program: Program
    controller: Controller
    tick: int = field(default=0, kw_only=True)
    states: dict[str, StateVariable] = field(default_factory=dict, kw_only=True)
    inputs: dict[str, InputVariable] = field(default_factory=dict, kw_only=True)
    next: dict[str, Node] = field(default_factory=dict, kw_only=True)

    def scanned(self, assumed: Iterable[Step]) -> tuple[dict[str, Node], Node]:
        """Adds the controller and the monitors of assumptions. Gives what is seen at the first instant of
        the transition, and whether every assumption has held by then."""
        length, outage = self._times(self._tick)
        normal, dark = self._scan()
        at_first, _ = self._assumptions(list(assumed), normal, dark, length, outage)
        return self._chosen(normal, dark), at_first

    def _names(self, *roles: str) -> list[str]:
        return [tag.name for tag in self.controller.tags.values() if tag.role in roles]

    def _input(self, each: InputVariable) -> Node:
        self.inputs[each.name] = each
        return each.node

    def _state(self, each: StateVariable, becomes: Node | None = None) -> Node:
        self.states[each.name] = each
        if becomes is not None:
            self.next[each.name] = becomes
        return each.node

    # ------------------------------------------------------------------ time

    def _times(self, tick: int) -> tuple[Node, Node]:
        """The length of this scan, and the time without power after it (ms)."""
        low, high = self.controller.scan_low // tick, self.controller.scan_high // tick
        if low == high:
            length: Node = constant(low * tick)
        else:
            length = apply("mul", self._input(InputVariable(SCAN_TICKS, "int", low, high)), constant(tick))
        self._input(InputVariable(CUT, "bool"))
        pause = self._input(InputVariable(OUTAGE_TICKS, "int", 1, LONGEST_OUTAGE // tick))
        return length, apply("mul", pause, constant(tick))

    # ------------------------------------------------------------------ scan

    def _scan(self) -> tuple[dict[str, Node], dict[str, Node]]:
        """Adds the controller; gives what is seen after a scan that ended well, and without power."""
        scan, cut = lower_scan(self.controller), variable(CUT, "bool")
        first = self._state(StateVariable(FIRST, "bool", True), cut)
        self._declare(scan)
        given = {variable(POWER_UP, "bool"): first, variable(ELAPSED, "int"): self._elapsed(first)}
        became = substitute([*scan.next.values(), *scan.outputs.values()], given)
        kept = retained_names(self.controller)
        for name, node in scan.next.items():
            state = scan.states[name]
            lost = became[node] if name in kept else typed_constant(state.type, state.start)
            self._state(state, select(cut, lost, became[node]))
        normal = {name: became[node] for name, node in scan.outputs.items()}
        dark = {name: self._without_power(name, node, scan, kept) for name, node in normal.items()}
        return {**normal, POWER_UP: first, SCANNING: ON}, {**dark, POWER_UP: OFF, SCANNING: OFF}

    def _declare(self, scan: Step) -> None:
        """States and inputs of the scan itself, parameters as constant states."""
        for state in scan.states.values():
            self._state(state)
        for name in self._names("input"):
            self._input(self.range_of(self.controller.tags[name]))
        for name in self._names("parameter"):
            tag = self.controller.tags[name]
            self._state(StateVariable(name, tag.type, start_of(tag), tag.low, tag.high))

    def _elapsed(self, first: Node) -> Node:
        """ms since the last scan; none on the first after power-up."""
        low, high = self.controller.scan_low, self.controller.scan_high
        if low == high:
            return select(first, constant(0), constant(low))
        length = apply("mul", variable(SCAN_TICKS, "int"), constant(self._tick))
        return select(first, constant(0), self._state(StateVariable(LAST_SCAN, "int", low, low, high), length))

    @property
    def _tick(self) -> int:
        """The plant's, 1 ms without a plant, or the one that was asked for."""
        return self.tick or (self.program.plant.tick if self.program.plant is not None else 1)

    def range_of(self, tag: Tag) -> InputVariable:
        """All that an input tag can read: its range, and whatever its channel can give."""
        low, high = tag.low, tag.high
        wires = self.program.plant.inputs if self.program.plant is not None else ()
        for wire in wires:
            if wire.tag == tag.name and tag.type != "bool":
                channel, limit = wire.channel, INT_LIMIT if tag.type == "int" else REAL_LIMIT
                ends: tuple[float | int, float | int] = (-limit, limit)
                if channel is not None:
                    counts = channel.counts_low, channel.counts_high
                    ends = channel.low, channel.high
                    if counts[0] is not None and counts[1] is not None:
                        ends = min(counts[0], counts[1]), max(counts[0], counts[1])
                low, high = min(low, *ends), max(high, *ends)
        return InputVariable(tag.name, tag.type, low, high)

    def _without_power(self, name: str, normal: Node, scan: Step, kept: frozenset[str]) -> Node:
        """A tag or a stage as seen while power is gone."""
        tag = self.controller.tags.get(name)
        if tag is not None and tag.role == "output":
            return typed_constant(tag.type, 0)
        if name in kept or (tag is not None and tag.role == "input"):
            return normal
        return typed_constant(normal.type, scan.states[name].start)

    @staticmethod
    def _chosen(normal: Mapping[str, Node], dark: Mapping[str, Node]) -> dict[str, Node]:
        cut = variable(CUT, "bool")
        return {name: select(cut, dark[name], node) for name, node in normal.items()}

    # ----------------------------------------------------------- assumptions

    def _assumptions(
        self, assumed: list[Step], normal: dict[str, Node], dark: dict[str, Node], length: Node, outage: Node
    ) -> tuple[Node, Node]:
        """Adds the monitors of assumptions: whether they have held up to the first instant, and to the last."""
        cut = variable(CUT, "bool")
        once, again = self._twice(assumed, normal, dark, length, outage)
        valid = self._state(StateVariable(ASSUMED, "bool", True)) if assumed else ON
        at_first = both(valid, *(once[f"out {o}"] for each in assumed for o in each.outputs))
        at_last = both(at_first, *(again[f"out {o}"] for each in assumed for o in each.outputs))
        if assumed:
            self.next[ASSUMED] = both(at_first, either(inverse(cut), at_last))
        return at_first, at_last

    def _twice(
        self, monitors: list[Step], normal: dict[str, Node], dark: dict[str, Node], length: Node, outage: Node
    ) -> tuple[dict[str, Node], dict[str, Node]]:
        """Monitors look at the end of the scan, or the start of a cut; and after a cut once more."""
        cut = variable(CUT, "bool")
        once = self._first_look(monitors, normal, dark, length)
        again = self._look(monitors, once, dark, outage)
        for monitor in monitors:
            for key, state in monitor.states.items():
                self._state(state, select(cut, again[f"next {key}"], once[f"next {key}"]))
        return once, again

    def _first_look(
        self, monitors: Iterable[Step], normal: Mapping[str, Node], dark: Mapping[str, Node], length: Node
    ) -> dict[str, Node]:
        """What monitors see at the end of a scan, or as power goes. One that works with several amounts looks at each
        by itself: what it makes of them is then the same numbers that the scan makes of them."""
        found: dict[str, Node] = {}
        for monitor in monitors:
            if sum(each.type == "real" for each in monitor.inputs.values()) < 2:
                found |= self._look([monitor], {}, self._chosen(normal, dark), length)
            else:
                lit, unlit = (self._look([monitor], {}, seen, length) for seen in (normal, dark))
                found |= self._chosen(lit, unlit)
        return found

    @staticmethod
    def _look(
        monitors: Iterable[Step], before: Mapping[str, Node], seen: Mapping[str, Node], elapsed: Node
    ) -> dict[str, Node]:
        """What monitors say (`out NAME`) and remember (`next NAME`) at one instant, over `before`."""
        result: dict[str, Node] = {}
        for monitor in monitors:
            given = {each.node: seen[key] for key, each in monitor.inputs.items() if key in seen}
            given[variable(INSTANT, "int")] = elapsed
            given |= {s.node: before[f"next {key}"] for key, s in monitor.states.items() if before}
            became = substitute([*monitor.next.values(), *monitor.outputs.values()], given)
            result |= {f"out {key}": became[node] for key, node in monitor.outputs.items()}
            for key, state in monitor.states.items():
                after = monitor.next.get(key)
                result[f"next {key}"] = became[after] if after is not None else given.get(state.node, state.node)
        return result


@dataclass
class Builder(ScanBuilder):
    """The parts of a requirement's system while it is put together: for requirements that know no fault."""

    requirement: Requirement

    def build(self) -> System:
        length, outage = self._times(self._tick)
        normal, dark = self._scan()
        outputs = self._monitors(normal, dark, length, outage)
        return self._system(outputs, self._chosen(normal, dark))

    def _system(self, outputs: Mapping[str, Node], seen: Mapping[str, Node]) -> System:
        shown = {**outputs, **{f"{SEEN}{name}": node for name, node in seen.items()}}
        step = Step(self.states, self.inputs, self.next, shown)
        return System(step, self.requirement.name, self._tick, free_starts=frozenset(self._names("parameter")))

    def _monitors(self, normal: dict[str, Node], dark: dict[str, Node], length: Node, outage: Node) -> dict[str, Node]:
        """Adds the requirement's and the assumptions' monitors; gives `bad` and `triggered`."""
        cut, name = variable(CUT, "bool"), self.requirement.name
        once, again = self._twice([lower_requirement(self.requirement)], normal, dark, length, outage)
        at_first, at_last = self._assumptions(assumption_monitors(self.program), normal, dark, length, outage)

        def saw(what: str) -> Node:
            key = f"out {name}/{what}"
            return either(both(at_first, once[key]), both(cut, at_last, again[key]))

        return {BAD: saw("violated"), TRIGGERED: saw("triggered")}


def assumption_monitors(program: Program) -> list[Step]:
    """The monitors of the assumptions that speak of tags alone."""
    return [
        lower_condition(f"assume {i}", each.condition)
        for i, each in enumerate(program.assumptions)
        if each.instants == "scan"
    ]
