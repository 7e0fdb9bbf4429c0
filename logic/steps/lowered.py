"""A whole Program lowered: each of its parts as a Step, ready for any engine.

The parts share variables by name. Where two things bear one name at different moments, the
names differ: a tag in the scan is `running`, the same tag as monitors and terminals see it
is `seen:running`, because tags of a scan are seen from its end on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rungproof.logic.meaning.program import Controller, Program
from rungproof.logic.steps.controller import POWER_UP, SCANNING, lower_scan
from rungproof.logic.steps.monitors import lower_condition, lower_requirement
from rungproof.logic.steps.node import Node, ordered, substitute, variable
from rungproof.logic.steps.plant import LoweredPlant, lower_plant
from rungproof.logic.steps.step import InputVariable, Step

SEEN = "seen:"


@dataclass(frozen=True)
class LoweredProgram:
    """`scan` reads its input tags as variables of their own names; monitors read `seen:TAG`, and
    the plant's truth already as expressions over its state and environment."""

    program: Program
    scan: Step | None
    plant: LoweredPlant | None
    requirements: Mapping[str, Step]
    assumptions: tuple[Step, ...]
    expectations: tuple[tuple[Step, ...], ...]


def lower_program(program: Program) -> LoweredProgram:
    """Everything that `program` says, as Steps."""
    controller = program.controller
    plant = lower_plant(program.plant, controller) if program.plant is not None else None
    views = _Views(controller, plant)
    return LoweredProgram(
        program,
        lower_scan(controller) if controller is not None else None,
        plant,
        {each.name: views.seen(lower_requirement(each)) for each in program.requirements},
        tuple(views.seen(lower_condition(f"assume {i}", each.condition)) for i, each in enumerate(program.assumptions)),
        tuple(
            tuple(
                views.seen(lower_condition(f"expect {i}", each.condition))
                for i, each in enumerate(scenario.expectations)
            )
            for scenario in program.scenarios
        ),
    )


@dataclass(frozen=True)
class _Views:
    """What monitors see under each name."""

    controller: Controller | None
    plant: LoweredPlant | None

    def seen(self, monitor: Step) -> Step:
        given = {name: self._view(each.node) for name, each in monitor.inputs.items()}
        changed = {name: node for name, node in given.items() if node is not monitor.inputs[name].node}
        return _widened(monitor, changed)

    def _view(self, node: Node) -> Node:
        name = node.name
        if self.plant is not None and name in self.plant.look:
            return self.plant.look[name]
        if self.controller is not None:
            tag = self.controller.tags.get(name)
            held = name in (POWER_UP, SCANNING) or "#" in name
            if held or (tag is not None and tag.role != "parameter"):
                return variable(SEEN + name, node.type)
        return node


def _widened(monitor: Step, changed: Mapping[str, Node]) -> Step:
    """`monitor` with inputs replaced by expressions, whose own variables become its inputs."""
    mapping = {monitor.inputs[name].node: node for name, node in changed.items()}
    became = substitute([*monitor.next.values(), *monitor.outputs.values()], mapping)
    nexts = {name: became[node] for name, node in monitor.next.items()}
    outputs = {name: became[node] for name, node in monitor.outputs.items()}
    inputs = {name: each for name, each in monitor.inputs.items() if name not in changed}
    for node in ordered([*nexts.values(), *outputs.values()]):
        if node.operator == "variable" and node.name not in inputs and node.name not in monitor.states:
            low, high = (0, 1) if node.type == "bool" else (-(2**53), 2**53)
            inputs[node.name] = InputVariable(node.name, node.type, low, high)
    return Step(monitor.states, inputs, nexts, outputs)
