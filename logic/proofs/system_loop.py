"""The system of a requirement on the machine with its program in the loop, and, where asked for, one thing failed.

Everything is in it tick by tick: scans that begin and end, what is retained, power that comes and goes, circuits,
relays. Amounts (levels, flows, what transmitters show) are free at every tick, or within their envelope.

One fault: which it is stands from the start on and is any of those that could matter; at every tick it is there or
not, as it likes. So a fault that comes at any time, that stays or that comes and goes, is covered.

A program that hangs goes on, sooner or later: within 24 days, after which its timers count no further here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.envelope import PLANT
from rungproof.logic.proofs.system_builder import LONGEST_OUTAGE, System
from rungproof.logic.proofs.system_plant import kept_in_range
from rungproof.logic.steps.closed_loop import LAST, LEFT, closed_loop
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.node import Node, apply, both, clamp, constant, substitute
from rungproof.logic.steps.run_plan import RunPlan, Shape, plan_run
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

#: The one fault is there in this tick; and which it is, by its number (0: none).
FAILS, WHICH = "it fails", "which fails"


def why_not_loop(program: Program, requirement: Requirement) -> str | None:
    """Why a requirement has no system with the program in the loop; None if it has one."""
    if program.plant is None or program.controller is None or requirement.instants == "scan":
        return "no plant plays a part in it"
    if requirement.outputs_free:
        return "with its outputs free the program plays no part"
    return None


def loop_system(program: Program, requirement: Requirement) -> System:
    """The system of a requirement whose instants are ticks, with the program in it; amounts are free."""
    return _LoopBuilder(program, requirement).build()


def loop_faults(program: Program, requirement: Requirement) -> tuple[str, ...]:
    """The faults that could matter to a requirement, in the order of their numbers from 1 on."""
    builder = _LoopBuilder(program, requirement)
    step = builder.loop.slice([f"{requirement.name}/violated", f"{requirement.name}/triggered"])
    return tuple(builder.faults_in(step))


@dataclass
class _LoopBuilder:
    program: Program
    requirement: Requirement

    def __post_init__(self) -> None:
        asked = (self.requirement,)
        lowered = lower_program(replace(self.program, requirements=asked, scenarios=(), assumptions=()))
        shape = Shape(frozenset({self.requirement.name}), None, self._moving(), frozenset(), False, False)
        self.plan: RunPlan = plan_run(lowered, shape)
        self.loop = self._without_amounts(closed_loop(lowered, shape))

    def _moving(self) -> frozenset[str]:
        failing = ("fault", "stop") if self.requirement.any_one_fault else ()
        kinds = ("operator", "disturbance", "power", "parameter", *failing)
        return frozenset(
            key for key, knob in self.program.knobs.items() if knob.kind in kinds and key not in self.program.excluded
        )

    def _without_amounts(self, loop: Step) -> Step:
        """The loop with every real number of the plant free at every tick, and with clocks that end."""
        free = {name: each for name, each in loop.states.items() if each.type == "real" and name.startswith(PLANT)}
        inputs = {name: InputVariable(name, "real", each.low, each.high) for name, each in free.items()}
        ends = {LEFT.name: self._longest_scan, LAST.name: LONGEST_OUTAGE}
        kept = {name: each for name, each in loop.states.items() if name not in free}
        states = {name: replace(each, high=ends.get(name, each.high)) for name, each in kept.items()}
        after = {name: node for name, node in loop.next.items() if name not in free}
        if LAST.name in after:
            after[LAST.name] = clamp(after[LAST.name], 0, LONGEST_OUTAGE)
        return Step(states, {**loop.inputs, **inputs}, after, dict(loop.outputs))

    @property
    def _longest_scan(self) -> int:
        assert self.program.controller is not None, "a loop has a controller"
        return self.program.controller.scan_high * (OVERRUN if self.requirement.any_one_fault else 1)

    @property
    def _says(self) -> dict[str, Node]:
        name = self.requirement.name
        return {what: self.loop.outputs[f"{name}/{what}"] for what in ("violated", "triggered")}

    def build(self) -> System:
        loop = self.loop
        step = Step(loop.states, loop.inputs, loop.next, self._says).slice(["violated", "triggered"])
        step, free = self._one_fault(self._with_parameters(step))
        step = kept_in_range(step, (LEFT.name,))
        return System(step, self.requirement.name, self.plan.tick, free_starts=free, case=WHICH)

    def _with_parameters(self, step: Step) -> Step:
        """Parameters as states that never change."""
        found = {each.name: each for each in step.inputs.values() if each.constant}
        starts = {name: self.program.knobs[name].start for name in found}
        kinds = {"bool": bool, "int": int, "real": float}
        states = {
            name: StateVariable(name, each.type, kinds[each.type](starts[name]), each.low, each.high)
            for name, each in found.items()
        }
        inputs = {name: each for name, each in step.inputs.items() if name not in found}
        return Step({**step.states, **states}, inputs, step.next, step.outputs)

    def _one_fault(self, step: Step) -> tuple[Step, frozenset[str]]:
        """Every fault in `step` made that one of them which is the fault of this run; and the states that may begin
        with any value: which one it is, and parameters."""
        parameters = {name for name in step.states if name in self.program.knobs}
        faults = self.faults_in(step)
        if not faults:
            return step, frozenset(parameters)
        which = StateVariable(WHICH, "int", 0, 0, len(faults))
        fails = InputVariable(FAILS, "bool")
        given = {
            step.inputs[name].node: both(fails.node, apply("eq", which.node, constant(number)))
            for number, name in enumerate(faults, 1)
        }
        became = substitute([*step.next.values(), *step.outputs.values()], given)
        inputs = {name: each for name, each in step.inputs.items() if name not in faults}
        changed = Step(
            {**step.states, WHICH: which},
            {**inputs, FAILS: fails},
            {name: became[node] for name, node in step.next.items()},
            {name: became[node] for name, node in step.outputs.items()},
        )
        return changed, frozenset({*parameters, WHICH})

    def faults_in(self, step: Step) -> list[str]:
        """The faults among the inputs of a step, by name."""
        knobs = self.program.knobs
        return sorted(name for name in step.inputs if name in knobs and knobs[name].kind in ("fault", "stop"))
