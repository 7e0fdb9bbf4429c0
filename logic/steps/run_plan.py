"""What a run needs: the nodes of every phase of an instant, renamed for the run, and its variables.

A plan is made for a *shape* of run: which requirements it judges, which scenario's
expectations, which environment keys may move, what it records. Keys that may not move
stand at their start value and fold away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from rungproof.logic.meaning.program import Controller, Expectation, Tag
from rungproof.logic.steps.controller import POWER_UP, SCANNING, retained_names, start_of
from rungproof.logic.steps.lowered import SEEN, LoweredProgram
from rungproof.logic.steps.monitors import INSTANT
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    constant,
    inverse,
    ordered,
    select,
    substitute,
    typed_constant,
    variable,
)
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.plant import LoweredPlant
from rungproof.logic.steps.stages import NUMBER_NAME
from rungproof.logic.steps.step import Step
from rungproof.logic.steps.wiring import before, driven, terminal

FIRST = variable("first", "bool")
STOPPED = "controller!stopped"
CUT = "controller!cut"
HUNG, OVERRUNS, MEMORY_LOST = "controller!hung", "controller!overrun", "controller!memory_lost"


def freed(key: str) -> Node:
    """Whether a free output's own value no longer counts: from its first event on."""
    return variable(freed_name(key), "bool")


def freed_name(key: str) -> str:
    return f"{key}#freed"


@dataclass(frozen=True, slots=True)
class Shape:
    """What a generated run is for. `moving` are the environment keys that may change in it, `free` the outputs that
    a story may take over, `taken` those of them that it has from its first instant on.

    `told` names what is written down whenever it changes (tags and the plant's truth); `forks`: the
    run can be broken off at a time and gone on with from there, in several ways.
    """

    watch: frozenset[str]
    scenario: int | None
    moving: frozenset[str]
    free: frozenset[str]
    record: bool
    stop_at_violation: bool
    told: tuple[str, ...] = ()
    forks: bool = False
    taken: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class MonitorPlan:
    """A monitor renamed for the run; `instants` is `scan` or `tick`."""

    name: str
    instants: str
    starts: Mapping[Node, Scalar]
    next: Mapping[Node, Node]
    outputs: Mapping[str, Node]


@dataclass(frozen=True, slots=True)
class Age:
    """An age of a monitor that looks at every tick. `rests`: whether it becomes 0 at this instant. `past`: truths that
    say whether, a tick older than at the last instant, it is so many ms or more. `limit`: where it stops (ms)."""

    rests: Node
    past: Mapping[Node, int]
    limit: int


@dataclass
class RunPlan:
    """Nodes of a run by phase, over variables: environment keys, `plant:` and `memory:` states,
    `seen:` tags, noise keys, and the run's own `first`, `scan elapsed` and `instant elapsed`.
    `ages` are states of monitors that are not counted but told by deadline, see `steps/ages.py`."""

    tick: int
    has_plant: bool
    environment: list[Node]
    starts: dict[Node, Scalar] = field(default_factory=dict)
    powered: Node = ON
    stopped: Node = OFF
    hung: Node = OFF
    overruns: Node = OFF
    memory_lost: Node = OFF
    memory_next: dict[Node, Node] = field(default_factory=dict)
    memory_starts: dict[Node, Scalar] = field(default_factory=dict)
    retained: frozenset[Node] = frozenset()
    publish: dict[Node, Node] = field(default_factory=dict)
    when_off: dict[Node, Node] = field(default_factory=dict)
    when_stopped: dict[Node, Node] = field(default_factory=dict)
    plant_next: dict[Node, Node] = field(default_factory=dict)
    look: dict[str, Node] = field(default_factory=dict)
    noise: dict[Node, tuple[str, int]] = field(default_factory=dict)
    requirements: list[MonitorPlan] = field(default_factory=list)
    assumptions: list[MonitorPlan] = field(default_factory=list)
    expectations: list[tuple[MonitorPlan, Expectation]] = field(default_factory=list)
    tags: dict[str, Node] = field(default_factory=dict)
    inputs_held: frozenset[Node] = frozenset()
    ranges: dict[Node, tuple[float | int, float | int]] = field(default_factory=dict)
    ages: dict[Node, Age] = field(default_factory=dict)

    @cached_property
    def places(self) -> dict[str, int]:
        """Where each environment key stands in `environment`."""
        return {node.name: index for index, node in enumerate(self.environment)}


class _Planner:
    """Builds a `RunPlan`; one method a phase."""

    def __init__(self, lowered: LoweredProgram, shape: Shape) -> None:
        program = lowered.program
        self.lowered, self.shape, self.program = lowered, shape, program
        self.has_plant = program.plant is not None
        self.given: dict[Node, Node] = {}
        moving = [self._environment(key) for key in program.knobs if key in shape.moving]
        moving += [freed(key) for key in program.knobs if key in shape.free - shape.taken]
        self.plan = RunPlan(program.plant.tick if program.plant is not None else 1, self.has_plant, moving)

    def _environment(self, key: str) -> Node:
        return variable(key, self.program.knobs[key].type)

    def build(self) -> RunPlan:
        self._fix_environment()
        if self.lowered.plant is not None:
            self._plant()
        if self.lowered.scan is not None:
            self._controller(self.lowered.scan)
        self._monitors()
        self._drop_unread()
        return self.plan

    def _fix_environment(self) -> None:
        """What cannot move in this run is a constant."""
        for key, knob in self.program.knobs.items():
            if key not in self.shape.moving and knob.kind != "free output":
                self.given[variable(key, knob.type)] = typed_constant(knob.type, knob.start)
        if self.program.controller is not None:
            for tag in self.program.controller.tags.values():
                if tag.role in ("input", "parameter") and tag.name not in self.program.knobs:
                    self.given[variable(tag.name, tag.type)] = typed_constant(tag.type, tag.start)
        if self.lowered.plant is not None:
            for each in self.lowered.plant.environment.values():
                if each.name not in self.program.knobs and each.name not in self.lowered.plant.noise:
                    self.given[each.node] = typed_constant(each.type, 0)

    def _changed(self, node: Node, more: Mapping[Node, Node] | None = None) -> Node:
        given = {**self.given, **(more or {})}
        return substitute([node], given)[node]

    def _all_changed(self, nodes: Sequence[Node], more: Mapping[Node, Node] | None = None) -> dict[Node, Node]:
        return substitute(nodes, {**self.given, **(more or {})})

    def _plant(self) -> None:
        plant = self.lowered.plant
        assert plant is not None
        for state in plant.states.values():
            renamed = variable(f"plant:{state.name}", state.type)
            self.given[state.node] = renamed
            self.plan.starts[renamed] = state.start
            self.plan.ranges[renamed] = state.low, state.high
        for key, each in plant.terminals.items():
            tag = key.removesuffix(terminal(""))
            self.given[each.node] = variable(SEEN + tag, each.type)
        for key, each in plant.before.items():
            self.given[each.node] = variable(f"memory:{key.removesuffix(before(''))}", each.type)
        nodes = [*plant.tick.values(), *plant.look.values(), *plant.read.values(), plant.powered]
        became = self._all_changed(nodes)
        while self._standing(plant, became):
            became = self._all_changed(nodes)
        moving = {
            key: node for key, node in plant.tick.items() if self.given[plant.states[key].node] in self.plan.starts
        }
        self.plan.plant_next = {self.given[plant.states[key].node]: became[node] for key, node in moving.items()}
        self.plan.look = {key: became[node] for key, node in plant.look.items()}
        self.plan.powered = became[plant.powered]
        self.plan.noise = {variable(key, "real"): (key, every) for key, every in plant.noise.items()}

    def _standing(self, plant: LoweredPlant, became: Mapping[Node, Node]) -> bool:
        """Make constants of what cannot leave its start, such as the clock of a fault that cannot come."""
        found = False
        for key, node in plant.tick.items():
            state = plant.states[key]
            renamed = self.given[state.node]
            start = typed_constant(state.type, state.start)
            if renamed in self.plan.starts and became[node] in (start, renamed):
                self.given[state.node], found = start, True
                del self.plan.starts[renamed], self.plan.ranges[renamed]
        return found

    def _controller(self, scan: Step) -> None:
        plan, controller = self.plan, self.program.controller
        assert controller is not None
        if not self.has_plant and CUT in self.program.knobs:
            plan.powered = inverse(self._changed(self._environment(CUT)))
        if STOPPED in self.program.knobs:
            plan.stopped = self._changed(self._environment(STOPPED))
            plan.hung = self._changed(self._environment(HUNG))
            plan.overruns = self._changed(self._environment(OVERRUNS))
            plan.memory_lost = self._changed(self._environment(MEMORY_LOST))
        rename = {each.node: variable(f"memory:{each.name}", each.type) for each in scan.states.values()}
        rename[variable(POWER_UP, "bool")] = FIRST
        read = {node: self._changed(value) for node, value in self._inputs_read().items()}
        became = self._all_changed([*scan.next.values(), *scan.outputs.values()], {**rename, **read})
        plan.memory_starts = {rename[each.node]: each.start for each in scan.states.values()}
        plan.ranges |= {rename[each.node]: (each.low, each.high) for each in scan.states.values()}
        plan.memory_next = {rename[scan.states[name].node]: became[node] for name, node in scan.next.items()}
        for node, value in read.items():
            held = variable(f"memory:{node.name}", node.type)
            tag = controller.tags[node.name]
            plan.memory_starts[held] = start_of(tag)
            plan.ranges[held] = tag.low, tag.high
            plan.memory_next[held] = value
        kept = retained_names(controller)
        kept |= {tag.name for tag in controller.tags.values() if tag.role == "input"}
        plan.inputs_held = frozenset(variable(f"memory:{n.name}", n.type) for n in read)
        plan.retained = frozenset(node for node in plan.memory_starts if node.name.removeprefix("memory:") in kept)
        self._publication(scan)

    def _inputs_read(self) -> dict[Node, Node]:
        """What each input tag reads at a scan's start: its terminal, or the environment."""
        controller = self.program.controller
        assert controller is not None
        wired = self.lowered.plant.read if self.lowered.plant is not None else {}
        inputs = [tag for tag in controller.tags.values() if tag.role == "input"]
        return {variable(t.name, t.type): wired.get(t.name, variable(t.name, t.type)) for t in inputs}

    def _publication(self, scan: Step) -> None:
        """What monitors and terminals see: after a scan, without power, and stopped."""
        plan, controller = self.plan, self.program.controller
        assert controller is not None
        for name, node in scan.outputs.items():
            tag = controller.tags.get(name)
            seen, held = variable(SEEN + name, node.type), variable(f"memory:{name}", node.type)
            survives = held in plan.retained or (tag is not None and tag.role == "input")
            start = typed_constant(held.type, plan.memory_starts[held])
            left = held if survives else start
            dark = select(plan.memory_lost, start, left) if tag is None or tag.role != "input" else left
            plan.starts[seen] = plan.memory_starts[held]
            low, high = plan.ranges[held]
            plan.ranges[seen] = (min(low, 0), max(high, 0))
            self._see(seen, held, dark, left)
            if tag is not None and tag.role == "output":
                self._terminal(tag, seen, held)
        self._see(variable(SEEN + POWER_UP, "bool"), FIRST, OFF, OFF)
        self._see(variable(SEEN + SCANNING, "bool"), ON, OFF, OFF)
        plan.starts[variable(SEEN + POWER_UP, "bool")] = plan.starts[variable(SEEN + SCANNING, "bool")] = False
        self._name_tags(controller)

    def _see(self, seen: Node, publish: Node, when_off: Node, when_stopped: Node) -> None:
        plan = self.plan
        plan.publish[seen], plan.when_off[seen], plan.when_stopped[seen] = publish, when_off, when_stopped

    def _terminal(self, tag: Tag, seen: Node, held: Node) -> None:
        """An output is seen as its terminal is: 0 or off where nothing drives it."""
        nothing = typed_constant(tag.type, 0)
        stays = tag.on_stop is None
        on_stop = seen if tag.on_stop is None else typed_constant(tag.type, tag.on_stop)
        given = held
        if tag.name in self.shape.free:
            given = self._environment(tag.name)
            given = given if tag.name in self.shape.taken else select(freed(tag.name), given, held)
        self._see(seen, given, nothing, on_stop)
        self.plan.starts[seen] = nothing.value
        drives = variable(SEEN + driven(tag.name), "bool")
        self._see(drives, ON, OFF, drives if stays else ON)
        self.plan.starts[drives] = False

    def _name_tags(self, controller: Controller) -> None:
        """Tags and stages by the names that files use."""
        tags = self.plan.tags
        for tag in controller.tags.values():
            own = variable(tag.name, tag.type)
            tags[tag.name] = self._changed(own) if tag.role == "parameter" else variable(SEEN + tag.name, tag.type)
        for stage in controller.stages.values():
            tags[stage.name] = variable(f"{SEEN}{stage.name}#out", "bool")
            if stage.kind != "rising":
                number = NUMBER_NAME[stage.kind]
                tags[f"{stage.name}.{number}"] = variable(f"{SEEN}{stage.name}#{number}", "int")

    def _monitors(self) -> None:
        program, lowered = self.program, self.lowered
        for requirement in program.requirements:
            if requirement.name in self.shape.watch:
                step = lowered.requirements[requirement.name]
                self.plan.requirements.append(self._monitor(requirement.name, requirement.instants, step))
        for i, (assumption, step) in enumerate(zip(program.assumptions, lowered.assumptions, strict=True)):
            self.plan.assumptions.append(self._monitor(f"assume {i}", assumption.instants, step))
        if self.shape.scenario is not None:
            instants = "tick" if self.has_plant else "scan"
            scenario = program.scenarios[self.shape.scenario]
            for i, expectation in enumerate(scenario.expectations):
                step = lowered.expectations[self.shape.scenario][i]
                self.plan.expectations.append((self._monitor(f"expect {i}", instants, step), expectation))

    def _drop_unread(self) -> None:
        """Forget what nothing in this run reads: views of stages, memory of no consequence."""
        plan = self.plan
        roots = [
            plan.powered,
            plan.stopped,
            plan.hung,
            plan.overruns,
            plan.memory_lost,
            *plan.tags.values(),
            *plan.plant_next.values(),
            *plan.look.values(),
        ]
        for monitor in (*plan.requirements, *plan.assumptions, *(m for m, _ in plan.expectations)):
            roots += [*monitor.next.values(), *monitor.outputs.values()]
        read = set(ordered(roots))
        plan.publish = {node: value for node, value in plan.publish.items() if node in read}
        plan.when_off = {node: plan.when_off[node] for node in plan.publish}
        plan.when_stopped = {node: plan.when_stopped[node] for node in plan.publish}
        seen = [*plan.publish.values(), *plan.when_off.values(), *plan.when_stopped.values()]
        pending = list(seen)
        needed: set[Node] = set()
        while pending:
            fresh = {node for node in ordered(pending) if node in plan.memory_next} - needed
            needed |= fresh
            pending = [plan.memory_next[node] for node in fresh]
        plan.memory_next = {node: value for node, value in plan.memory_next.items() if node in needed}
        held = needed.union(ordered([*seen, *plan.memory_next.values()]))
        plan.memory_starts = {node: value for node, value in plan.memory_starts.items() if node in held}

    def _monitor(self, name: str, instants: str, step: Step) -> MonitorPlan:
        self.plan.ranges |= {each.node: (each.low, each.high) for each in step.states.values()}
        more = {variable(INSTANT, "int"): constant(self.plan.tick)} if instants == "tick" else {}
        became = self._all_changed([*step.next.values(), *step.outputs.values()], more)
        return MonitorPlan(
            name,
            instants,
            {each.node: each.start for each in step.states.values()},
            {step.states[key].node: became[node] for key, node in step.next.items()},
            {key.removeprefix(f"{name}/"): became[node] for key, node in step.outputs.items()},
        )


def lost_with_power(plan: RunPlan) -> dict[Node, Node]:
    """What becomes of retained memory in a loss of power, where it can be lost: tags and stages, not inputs read."""
    if plan.memory_lost is OFF:
        return {}
    return {
        node: select(plan.memory_lost, typed_constant(node.type, start), node)
        for node, start in plan.memory_starts.items()
        if node in plan.retained and node not in plan.inputs_held
    }


def plan_run(lowered: LoweredProgram, shape: Shape) -> RunPlan:
    """The plan of a run of `shape`."""
    return _Planner(lowered, shape).build()
