"""The plant, its circuits and its wiring lowered, by running the same Assembly with symbols.

Variables: the plant's state and the environment by their flat keys; `TAG#terminal`, what
the controller last put on an output terminal (0 or off where it drives nothing), and
`TAG#driven`, whether it drives it at all: 4 mA and 0 mA are two things.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rungproof.logic.meaning.program import Circuit, Controller, Plant, Stage, Tag
from rungproof.logic.meaning.terminals import faults_of_wires, wires_of
from rungproof.logic.meaning.typed import NodeValue, PartReading, TerminalValue
from rungproof.logic.steps.expressions import lower
from rungproof.logic.steps.node import (
    OFF,
    Node,
    apply,
    both,
    constant,
    either,
    inverse,
    typed_constant,
    variable,
)
from rungproof.logic.steps.operators import Type
from rungproof.logic.steps.scope import Leaf, Scope
from rungproof.logic.steps.step import InputVariable, StateVariable, Step
from rungproof.logic.steps.symbol import Symbol, SymbolicOps, node_of
from rungproof.logic.steps.wiring import before, driven, live, reads, terminal, to_part, wires_out

OPS = SymbolicOps()


@dataclass(frozen=True)
class LoweredPlant:
    """One instant and one tick of the plant, as expressions over its state and environment.

    `look` is the truth at the instant, `read` what each input tag's terminal gives, `powered`
    whether the controller has power, `tick` the state one tick later. `noise` maps each draw's
    key to how often it is drawn (ms). `before` are what input tags read last, `TAG#before`.
    """

    states: Mapping[str, StateVariable]
    environment: Mapping[str, InputVariable]
    terminals: Mapping[str, InputVariable]
    look: Mapping[str, Node]
    read: Mapping[str, Node]
    powered: Node
    tick: Mapping[str, Node]
    noise: Mapping[str, int]
    before: Mapping[str, InputVariable]

    def step(self) -> Step:
        """The tick as a Step of its own: outputs are the look and what the input tags read."""
        inputs = {**self.environment, **self.terminals, **self.before}
        return Step(self.states, inputs, self.tick, {**self.look, **{f"{k}#read": v for k, v in self.read.items()}})


def lower_plant(plant: Plant, controller: Controller | None) -> LoweredPlant:
    """`plant` with its circuits and wiring; `controller` says what its tags are."""
    assembly = plant.assembly
    states = {
        key: StateVariable(key, v.type, _as(v.type, v.start), v.low, v.high) for key, v in assembly.variables.items()
    }
    environment = {
        key: InputVariable(key, each.type, each.low, each.high) for key, each in assembly.environment.items()
    }
    for place, faults in faults_of_wires(wires_of(plant)).items():
        environment |= {f"{place}!{f.name}": InputVariable(f"{place}!{f.name}", "bool") for f in faults}
    environment["controller!cut"] = InputVariable("controller!cut", "bool")
    tags = controller.tags if controller is not None else {}
    terminals: dict[str, InputVariable] = {}
    for output in plant.outputs:
        tag, name = tags[output.tag], terminal(output.tag)
        terminals[name] = InputVariable(name, tag.type, tag.low, tag.high)
        if output.channel is not None:
            terminals[driven(output.tag)] = InputVariable(driven(output.tag), "bool")

    state = {key: Symbol(each.node) for key, each in states.items()}
    env = {key: Symbol(environment[key].node) for key in assembly.environment}
    shown = assembly.look(OPS, state, env)
    types: dict[str, Type] = {key: each.type for key, each in assembly.outputs.items()}
    look = {key: _coerced(node_of(value), types.get(key, "bool")) for key, value in shown.items()}
    drive = _driven(plant, look, tags)
    drives = {key: Symbol(typed_constant(each.type, each.start)) for key, each in assembly.driven.items()}
    drives |= {key: Symbol(_coerced(node, assembly.driven[key].type)) for key, node in drive.items()}
    after = assembly.tick(OPS, state, {key: Symbol(node) for key, node in look.items()}, drives, env)
    return LoweredPlant(
        states,
        environment,
        terminals,
        look,
        reads(plant, look, tags),
        _powered(plant, look),
        {key: _coerced(node_of(after[key]), each.type) for key, each in states.items()},
        {key: each.every_ms for key, each in assembly.environment.items() if each.source == "noise"},
        _before(plant, tags),
    )


def _before(plant: Plant, tags: Mapping[str, Tag]) -> dict[str, InputVariable]:
    """What the input tags with a channel read in the scan before: a frozen channel gives it again."""
    found: dict[str, InputVariable] = {}
    for wire in plant.inputs:
        if wire.channel is not None:
            tag, name = tags[wire.tag], before(wire.tag)
            found[name] = InputVariable(name, tag.type, tag.low, tag.high)
    return found


def _as(type_: Type, value: Any) -> Any:
    return {"bool": bool, "int": int, "real": float}[type_](value)


def _coerced(node: Node, type_: Type) -> Node:
    if node.type == type_:
        return node
    if type_ == "real":
        return apply("real", node)
    raise TypeError(f"a part gave {node.type} where {type_} is declared")


def _powered(plant: Plant, look: Mapping[str, Node]) -> Node:
    return both(live(plant.controller_supply, look), inverse(variable("controller!cut", "bool")))


# ---------------------------------------------------------------------- driving


def _driven(plant: Plant, look: Mapping[str, Node], tags: Mapping[str, Tag]) -> dict[str, Node]:
    drive: dict[str, Node] = {}
    wires = wires_out(plant, look, tags)
    for wire in plant.outputs:
        if wire.target is not None:
            value = to_part(wire, wires[wire.tag])
            drive[wire.target] = _pulls(wire.target, value, wire.module_supply, plant, look)
    for circuit in plant.circuits:
        for key, value in _circuit(circuit, look, wires).items():
            drive[key] = _pulls(key, value, circuit.supply, plant, look)
    return drive


def _pulls(key: str, value: Node, supply: str | None, plant: Plant, look: Mapping[str, Node]) -> Node:
    """A coil on a sagging supply holds what it has pulled in, and pulls nothing in anew."""
    holds, sags = f"{key.partition('.')[0]}.pulled_in", f"{supply}!sagging"
    if holds not in look or sags not in plant.assembly.environment:
        return value
    return both(value, either(look[holds], inverse(variable(sags, "bool"))))


def _circuit(circuit: Circuit, look: Mapping[str, Node], terminals: Mapping[str, Node]) -> dict[str, Node]:
    """What a circuit drives: its rungs in order, from its supply."""
    nodes: dict[str, Node] = {}
    drive: dict[str, Node] = {}

    def read(leaf: Leaf) -> Node:
        match leaf:
            case PartReading(key=key):
                return look[key]
            case NodeValue(node=name):
                return nodes[name]
            case TerminalValue(tag=tag):
                return terminals[tag]
            case _:
                raise TypeError(f"a circuit cannot read {leaf!r}")

    scope = Scope(read, OFF, constant(0))
    for rung in circuit.rungs:
        power = live(circuit.supply, look)
        for element in rung.elements:
            if isinstance(element, Stage):
                raise TypeError("a circuit has no stages")
            power = both(power, lower(element.expression, scope))
        for output in rung.outputs:
            conducts = power if output.when is None else both(power, lower(output.when, scope))
            (nodes if output.target_kind == "node" else drive)[output.target] = conducts
    return drive
