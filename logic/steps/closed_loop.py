"""The closed loop as one Step: what one boundary of `contract.py` does to everything.

For provers and explorers, who want states and transitions and no engine. One step is a
tick of the plant; without a plant it is a whole scan, or a pause while the controller does
not run. Inputs are the environment, and `scan ticks`: how long a scan (or, without a plant,
a pause) that begins now takes, in ticks; a tick is 1 ms without a plant.

Outputs are `NAME/violated`, `NAME/triggered` and `NAME/open` of every requirement,
`assume I/holds`, and each tag and stage as it is seen. Where a monitor does not look, its
bits are off and its assumption holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.meaning.program import Program
from rungproof.logic.steps.controller import ELAPSED
from rungproof.logic.steps.lowered import LoweredProgram
from rungproof.logic.steps.monitors import INSTANT
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
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.run_plan import FIRST, MonitorPlan, RunPlan, Shape, lost_with_power, plan_run
from rungproof.logic.steps.step import InputVariable, StateVariable, Step, variables_read

SCAN_TICKS = "scan ticks"

#: The longest time that the loop's own clocks count to (ms).
LONGEST = 2**50

RUNNING = variable("mode running", "bool")
STOPPED = variable("mode stopped", "bool")
BEGUN = variable("begun", "bool")
LEFT = variable("ms to boundary", "int")
LAST = variable("ms of last scan", "int")
SINCE = variable("ms since instant", "int")
ZERO = constant(0)


def closed_loop(lowered: LoweredProgram, shape: Shape | None = None) -> Step:
    """The whole program as one Step; `shape` says what is watched and what may move (all, if None)."""
    program = lowered.program
    if shape is None:
        every = frozenset(each.name for each in program.requirements)
        shape = Shape(every, None, frozenset(program.knobs), frozenset(), False, False)
    loop = _Loop(program, plan_run(lowered, shape))
    return loop.build()


@dataclass
class _Loop:
    """A loop being composed: what each variable becomes, and what monitors and terminals see now."""

    program: Program
    plan: RunPlan
    starts: dict[Node, Scalar] = field(default_factory=dict)
    next: dict[Node, Node] = field(default_factory=dict)
    outputs: dict[str, Node] = field(default_factory=dict)
    seen: dict[Node, Node] = field(default_factory=dict)
    at_scan: Node = OFF

    def build(self) -> Step:
        plan = self.plan
        self._keep(BEGUN, False, ON)
        if plan.publish:
            self._controller()
        for node, value in plan.plant_next.items():
            self._keep(node, plan.starts[node], self._now(value))
        for monitor in plan.requirements:
            bits = self._monitor(monitor)
            self.outputs |= {f"{monitor.name}/{name}": node for name, node in bits.items()}
        for monitor in plan.assumptions:
            holds = self._monitor(monitor)["holds"]
            self.outputs[f"{monitor.name}/holds"] = holds
        self.outputs |= {name: self._now(node) for name, node in plan.tags.items()}
        return self._step()

    def _keep(self, node: Node, start: Scalar, becomes: Node) -> None:
        self.starts[node], self.next[node] = start, becomes

    def _now(self, node: Node) -> Node:
        """`node` with tags as they are seen once a scan that ends now has ended."""
        return substitute([node], self.seen)[node]

    # -------------------------------------------------------------- controller

    def _controller(self) -> None:
        plan = self.plan
        boundary = apply("eq", LEFT, ZERO) if plan.has_plant else ON
        go = both(plan.powered, inverse(plan.stopped), inverse(plan.hung))
        begins = both(boundary, go)
        ends, starts_up = both(begins, RUNNING), both(begins, inverse(RUNNING))
        goes_off = both(boundary, inverse(plan.powered), either(RUNNING, STOPPED))
        stops = both(boundary, plan.powered, plan.stopped, inverse(STOPPED))
        self.at_scan = both(BEGUN, either(ends, starts_up, goes_off, stops))
        for node, published in plan.publish.items():
            without = select(goes_off, plan.when_off[node], select(stops, plan.when_stopped[node], node))
            self.seen[node] = select(ends, published, without)
            self._keep(node, plan.starts[node], self.seen[node])
        self._memory(begins, starts_up, either(goes_off, stops), goes_off)
        hangs = both(boundary, plan.powered, inverse(plan.stopped), plan.hung)
        self._keep(RUNNING, False, select(boundary, either(go, both(hangs, RUNNING)), RUNNING))
        rests = either(both(plan.powered, plan.stopped), both(hangs, STOPPED))
        self._keep(STOPPED, False, select(boundary, rests, STOPPED))
        self._clocks(boundary, begins, both(hangs, RUNNING))

    def _memory(self, begins: Node, starts_up: Node, lost: Node, goes_off: Node) -> None:
        """Memory after a scan that begins now has been solved, or after it was lost."""
        plan = self.plan
        moment = {FIRST: starts_up, variable(ELAPSED, "int"): select(starts_up, ZERO, LAST)}
        became = substitute(list(plan.memory_next.values()), moment)
        taken = lost_with_power(plan)
        for node, start in plan.memory_starts.items():
            kept = select(lost, typed_constant(node.type, start), node)
            if node in plan.retained:
                kept = select(goes_off, taken[node], node) if node in taken else node
            solved = became[plan.memory_next[node]] if node in plan.memory_next else node
            self._keep(node, start, select(begins, solved, kept))
        self._keep(FIRST, False, select(begins, starts_up, FIRST))

    def _clocks(self, boundary: Node, begins: Node, hangs: Node) -> None:
        tick = constant(self.plan.tick)
        length = apply("mul", variable(SCAN_TICKS, "int"), tick)
        paused = tick if self.plan.has_plant else length
        length = select(self.plan.overruns, apply("mul", constant(OVERRUN), length), length)
        self._keep(LAST, 0, select(begins, length, select(hangs, apply("add", LAST, paused), LAST)))
        passes = select(begins, length, paused)
        if self.plan.has_plant:
            passes = tick
            left = select(begins, length, select(boundary, tick, LEFT))
            self._keep(LEFT, 0, apply("sub", left, tick))
        self._keep(SINCE, 0, apply("add", select(self.at_scan, ZERO, SINCE), passes))

    # ---------------------------------------------------------------- monitors

    def _monitor(self, monitor: MonitorPlan) -> dict[str, Node]:
        looks = self.at_scan if monitor.instants == "scan" else BEGUN
        moment = {**self.seen, variable(INSTANT, "int"): SINCE}
        became = substitute([*monitor.next.values(), *monitor.outputs.values()], moment)
        for node, start in monitor.starts.items():
            self._keep(node, start, select(looks, became[monitor.next[node]], node))
        bits = {}
        for name, node in monitor.outputs.items():
            if name == "holds":
                bits[name] = either(inverse(looks), became[node])
            else:
                bits[name] = became[node] if name == "open" else both(looks, became[node])
        return bits

    # -------------------------------------------------------------------- step

    def _step(self) -> Step:
        states = {node.name: self._state(node) for node in self.starts}
        read = variables_read([*self.next.values(), *self.outputs.values()]) - states.keys()
        inputs = {name: self._input(name) for name in sorted(read)}
        nexts = {node.name: value for node, value in self.next.items()}
        return Step(states, inputs, nexts, self.outputs)

    def _state(self, node: Node) -> StateVariable:
        low, high = self.plan.ranges.get(node, (0, 1) if node.type == "bool" else (0, LONGEST))
        return StateVariable(node.name, node.type, self.starts[node], low, high)

    def _input(self, name: str) -> InputVariable:
        if name == SCAN_TICKS:
            controller = self.program.controller
            assert controller is not None
            tick = self.plan.tick
            return InputVariable(name, "int", controller.scan_low // tick, controller.scan_high // tick)
        knob = self.program.knobs.get(name)
        if knob is None:
            return InputVariable(name, "real", -1.0, 1.0) if "~" in name else InputVariable(name, "bool")
        return InputVariable(name, knob.type, knob.low, knob.high, knob.kind == "parameter")
