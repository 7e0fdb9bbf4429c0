"""The system of a requirement on the machine itself: parts, contacts, coils and circuits, tick by tick.

What is whole numbers and truths in the plant is in it as it is: relays with their times, latches, contacts,
floats. What is a real number (a level, a flow, a temperature) may be anything within its range at every
tick, and so may everything that the controller's terminals give. People, power and the world do as they
like. So this system can do all that the plant can, and more: what is proved of it needs no word about
liquids or about the program; what it breaks is open.

No part fails in it: `even with any one fault` is for `system_loop.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.meaning.typed import PartReading
from rungproof.logic.proofs.certificate_basis import parts_of
from rungproof.logic.proofs.envelope import NAME, Fact, facts_of, watched
from rungproof.logic.proofs.system_builder import BAD, TRIGGERED, System
from rungproof.logic.proofs.system_envelope import Parts, enveloped
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.node import (
    ON,
    Node,
    apply,
    both,
    clamp,
    constant,
    either,
    ordered,
    select,
    variable,
)
from rungproof.logic.steps.run_plan import Shape, plan_run
from rungproof.logic.steps.step import InputVariable, StateVariable, Step, variables_read

#: A state of a system of the plant: monitors look from the first tick's end on.
BEGUN = "the first tick has passed"
#: Before the name of a part's own state.
PLANT = "plant:"
ANY = 2**53
#: A requirement that reads an amount is tried up to this horizon (ms): in a longer one amounts decide.
LONGEST_OF_AMOUNTS = 10_000

Make = Callable[[Node], InputVariable]


def why_not_plant(requirement: Requirement) -> str | None:
    """Why a requirement on the machine itself has no system here; None if it has one."""
    if requirement.any_one_fault:
        return "it is about the machine with any one thing failed, which is no matter of its circuits alone"
    amounts = any(each.type == "real" for each in parts_of(requirement.form) if isinstance(each, PartReading))
    if amounts and requirement.horizon > LONGEST_OF_AMOUNTS:
        return "it speaks of amounts over a long time, and in a proof amounts may be anything at any instant"
    return None


def why_not_envelope(program: Program, requirement: Requirement) -> str | None:
    """Why there is no system of a requirement with the plant's amounts within their envelope; None if there is."""
    if program.plant is None or program.controller is None or requirement.instants == "scan":
        return "no plant plays a part in it"
    if requirement.any_one_fault:
        return "it is about the machine with any one thing failed"
    return None


def plant_system(program: Program, requirement: Requirement, facts: tuple[Fact, ...] = ()) -> System:
    """The system of a requirement whose instants are ticks; amounts move as `facts` say, and no further."""
    return _PlantBuilder(program, requirement, facts).build()


def plant_facts(program: Program, requirement: Requirement) -> tuple[Fact, ...]:
    """What the plant's lines say of how fast the amounts that `requirement` speaks of can change."""
    facts: tuple[Fact, ...] = ()
    while True:
        builder = _PlantBuilder(program, requirement, facts)
        found = facts_of(program, requirement, builder.plan, builder.cone())
        if set(found) <= set(facts):
            return facts
        facts = tuple(dict.fromkeys((*facts, *found)))


class _PlantBuilder:
    def __init__(self, program: Program, requirement: Requirement, facts: tuple[Fact, ...] = ()) -> None:
        self.requirement, self.facts = requirement, facts
        asked = (requirement, *watched(facts))
        self.program = replace(program, requirements=asked, scenarios=())
        moving = {key for key, knob in program.knobs.items() if self._moves(knob.kind)}
        shape = Shape(frozenset(each.name for each in asked), None, frozenset(moving), frozenset(), False, False)
        self.plan = plan_run(lower_program(self.program), shape)

    @staticmethod
    def _moves(kind: str) -> bool:
        # A stop and a free output are in what the terminals may give.
        return kind not in ("fault", "stop", "free output")

    def cone(self) -> list[Node]:
        """All that the requirement and the facts depend on, through any number of ticks."""
        roots = [each for monitor in self.plan.requirements for each in monitor.outputs.values()]
        after = dict(self.plan.plant_next)
        for monitor in self.plan.requirements:
            after |= monitor.next
        found: dict[Node, None] = {}
        while roots:
            fresh = [node for node in ordered(roots) if node not in found]
            found |= dict.fromkeys(fresh)
            roots = [after[node] for node in fresh if node in after and node.type != "real"]
        return list(found)

    def build(self) -> System:
        plan = self.plan
        begun = variable(BEGUN, "bool")
        monitor = plan.requirements[0]
        states: dict[str, StateVariable] = {BEGUN: StateVariable(BEGUN, "bool", False)}
        after: dict[str, Node] = {BEGUN: ON}
        for node, value in plan.plant_next.items():
            if node.type != "real":
                states[node.name], after[node.name] = self._state(node), value
        for node, start in monitor.starts.items():
            low, high = plan.ranges[node]
            states[node.name] = StateVariable(node.name, node.type, start, low, high)
            after[node.name] = select(begun, monitor.next[node], node)
        says = {what: both(begun, monitor.outputs[what]) for what in ("violated", "triggered")}
        if self.facts:
            named = {f"{NAME} {number}": fact for number, fact in enumerate(self.facts, 1)}
            parts = enveloped(plan, named, Parts(states, after, says), begun)
            states, after, says = parts.states, parts.after, parts.says
        free = self._parameters(states, [*after.values(), *says.values()])
        step = kept_in_range(_sliced(states, after, says, self._input))
        return System(step, self.requirement.name, plan.tick, free_starts=frozenset(free) & step.states.keys())

    def _state(self, node: Node) -> StateVariable:
        low, high = self.plan.ranges[node]
        return StateVariable(node.name, node.type, self.plan.starts[node], low, high)

    def _parameters(self, states: dict[str, StateVariable], nodes: list[Node]) -> set[str]:
        """Parameters that are read, as states that never change."""
        found = set()
        for name in variables_read(nodes):
            knob = self.program.knobs.get(name)
            if knob is not None and knob.kind == "parameter":
                start = {"bool": bool, "int": int, "real": float}[knob.type](knob.start)
                states[name] = StateVariable(name, knob.type, start, knob.low, knob.high)
                found.add(name)
        return found

    def _input(self, node: Node) -> InputVariable:
        """Anything within what is known of it."""
        if node.type == "bool":
            return InputVariable(node.name, "bool")
        knob = self.program.knobs.get(node.name)
        if knob is not None:
            return InputVariable(node.name, node.type, knob.low, knob.high)
        low, high = self.plan.ranges.get(node, (-ANY, ANY))
        return InputVariable(node.name, node.type, low, high)


def _sliced(states: dict[str, StateVariable], after: dict[str, Node], outputs: dict[str, Node], make: Make) -> Step:
    """The step with an input for whatever is read and is no state; only what the outputs need."""
    needed = ordered([*after.values(), *outputs.values()])
    read = {node for node in needed if node.operator == "variable" and node.name not in states}
    inputs = {node.name: make(node) for node in sorted(read, key=lambda node: node.name)}
    return Step(states, inputs, after, outputs).slice(list(outputs))


def kept_in_range(step: Step, more: Collection[str] = ()) -> Step:
    """The step with every whole number of a part, and those named, held within the range that it declares, and bad
    where one would have left it: so the proof shows the ranges too, and rests on nobody's word for them."""
    after, left = dict(step.next), [step.outputs["violated"]]
    for name, state in step.states.items():
        if state.type == "int" and name in after and (name.startswith(PLANT) or name in more):
            value = step.next[name]
            after[name] = clamp(value, state.low, state.high)
            left.append(apply("lt", constant(int(state.high)), value))
            left.append(apply("lt", value, constant(int(state.low))))
    return Step(step.states, step.inputs, after, {BAD: either(*left), TRIGGERED: step.outputs["triggered"]})
