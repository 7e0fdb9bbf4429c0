"""Faults that no run can tell apart: a wire broken here or there, shorted to 0 V, a contact that stays open.

With hash-consed nodes two faults do the same if the whole system with the one standing, and the
other off, is the same object as with the other standing and the one off. That is sound: such faults
share every run. What it does not see it takes to be different, and runs it.
"""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.faults.eyes import Eyes, leaves
from rungproof.logic.faults.variants import Variant
from rungproof.logic.meaning.program import Program
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.node import OFF, ON, Node, ordered, substitute, variable
from rungproof.logic.steps.run_plan import RunPlan, Shape, plan_run


class System:
    """A program's nodes with all faults free, as far as something moves or judges or is told."""

    def __init__(self, program: Program, told: Sequence[str]) -> None:
        watch = frozenset(requirement.name for requirement in program.requirements)
        moving = frozenset(key for key, knob in program.knobs.items() if knob.kind != "free output")
        plan = plan_run(lower_program(program), Shape(watch, None, moving, frozenset(), False, False))
        self.nodes = _nodes(plan, told)
        self.faults = [key for key, knob in program.knobs.items() if knob.kind in ("fault", "stop", "power")]

    def alone(self, key: str) -> tuple[Node, ...]:
        """The system with one fault standing and no other."""
        given = {variable(each, "bool"): ON if each == key else OFF for each in self.faults}
        became = substitute(self.nodes, given)
        return tuple(became[node] for node in self.nodes)

    def healthy(self) -> tuple[Node, ...]:
        """The system without a fault."""
        return self.alone("")

    def beside_others(self, key: str) -> tuple[Node, ...]:
        """The system with one fault standing, all others free."""
        became = substitute(self.nodes, {variable(key, "bool"): ON})
        return tuple(became[node] for node in self.nodes)


def _nodes(plan: RunPlan, told: Sequence[str]) -> list[Node]:
    nodes = [plan.powered, plan.stopped, plan.hung, plan.overruns, plan.memory_lost]
    nodes += [plan.look[name] for name in told if name in plan.look]
    for values in (plan.plant_next, plan.memory_next, plan.publish, plan.when_off, plan.when_stopped, plan.tags):
        nodes += list(values.values())
    for monitor in (*plan.requirements, *plan.assumptions):
        nodes += [*monitor.next.values(), *monitor.outputs.values()]
    return nodes


def classes_of(
    program: Program, told: Sequence[str], variants: Sequence[Variant]
) -> tuple[list[list[Variant]], list[Variant]]:
    """Variants that do the same, the first of each class first; and those that change nothing at all."""
    system = System(program, told)
    healthy = system.healthy()
    known: dict[str, tuple[Node, ...]] = {}
    groups: dict[tuple[object, ...], list[Variant]] = {}
    idle: list[Variant] = []
    for variant in variants:
        if variant.key not in known:
            known[variant.key] = system.alone(variant.key)
        others = {key for _, key, _ in variant.pattern} - {variant.key}
        if known[variant.key] == healthy and not others:
            idle.append(variant)
            continue
        pattern = tuple((at, "" if key == variant.key else key, value) for at, key, value in variant.pattern)
        groups.setdefault((tuple(map(id, known[variant.key])), pattern), []).append(variant)
    return list(groups.values()), idle


def cone_of(program: Program, eyes: Eyes) -> set[str]:
    """The faults that some safe state or some requirement depends on, through any number of steps."""
    watch = frozenset(requirement.name for requirement in program.requirements)
    moving = frozenset(key for key, knob in program.knobs.items() if knob.kind != "free output")
    plan = plan_run(lower_program(program), Shape(watch, None, moving, frozenset(), False, False))
    pending = [plan.powered, plan.stopped, plan.hung, plan.overruns, plan.memory_lost]
    for safe in eyes.safes:
        pending += [plan.tags.get(name) or plan.look[name] for name in leaves(safe.expression)]
    for monitor in plan.requirements:
        pending += [*monitor.next.values(), *monitor.outputs.values()]
    becomes = _becomes(plan)
    read: set[Node] = set()
    while pending:
        fresh = {node for node in ordered(pending) if node.operator == "variable"} - read
        read |= fresh
        pending = [value for node in fresh for value in becomes.get(node, ())]
    return {node.name for node in read}


def _becomes(plan: RunPlan) -> dict[Node, list[Node]]:
    """All that a variable can become."""
    found: dict[Node, list[Node]] = {}
    for values in (plan.plant_next, plan.memory_next, plan.publish, plan.when_off, plan.when_stopped):
        for node, value in values.items():
            found.setdefault(node, []).append(value)
    return found
