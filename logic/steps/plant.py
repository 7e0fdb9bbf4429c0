"""The plant, its circuits and its wiring lowered, by running the same Assembly with symbols.

Variables: the plant's state and the environment by their flat keys; `TAG#terminal`, what
the controller last put on an output terminal (0 or off where it drives nothing), and
`TAG#driven`, whether it drives it at all: 4 mA and 0 mA are two things.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rungproof.logic.meaning.program import Channel, Circuit, Controller, InputWire, OutputWire, Plant, Stage, Tag
from rungproof.logic.meaning.typed import NodeValue, PartReading, TerminalValue
from rungproof.logic.steps.expressions import lower
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    clamp,
    constant,
    inverse,
    select,
    typed_constant,
    variable,
)
from rungproof.logic.steps.operators import Type
from rungproof.logic.steps.scope import Leaf, Scope
from rungproof.logic.steps.step import InputVariable, StateVariable, Step
from rungproof.logic.steps.symbol import Symbol, SymbolicOps, node_of

OPS = SymbolicOps()


@dataclass(frozen=True)
class LoweredPlant:
    """One instant and one tick of the plant, as expressions over its state and environment.

    `look` is the truth at the instant, `read` what each input tag's terminal gives, `powered`
    whether the controller has power, `tick` the state one tick later. `noise` maps each draw's
    key to how often it is drawn (ms).
    """

    states: Mapping[str, StateVariable]
    environment: Mapping[str, InputVariable]
    terminals: Mapping[str, InputVariable]
    look: Mapping[str, Node]
    read: Mapping[str, Node]
    powered: Node
    tick: Mapping[str, Node]
    noise: Mapping[str, int]

    def step(self) -> Step:
        """The tick as a Step of its own: outputs are the look and what the input tags read."""
        inputs = {**self.environment, **self.terminals}
        return Step(self.states, inputs, self.tick, {**self.look, **{f"{k}#read": v for k, v in self.read.items()}})


def terminal(tag: str) -> str:
    """The name of the value that the controller last put on this tag's terminal."""
    return f"{tag}#terminal"


def driven(tag: str) -> str:
    """The name of whether the controller drives this tag's terminal."""
    return f"{tag}#driven"


def lower_plant(plant: Plant, controller: Controller | None) -> LoweredPlant:
    """`plant` with its circuits and wiring; `controller` says what its tags are."""
    assembly = plant.assembly
    states = {
        key: StateVariable(key, v.type, _as(v.type, v.start), v.low, v.high) for key, v in assembly.variables.items()
    }
    environment = {
        key: InputVariable(key, each.type, each.low, each.high) for key, each in assembly.environment.items()
    }
    for place in (*(w.terminal for w in plant.inputs), *(w.terminal for w in plant.outputs)):
        key = f"{place}!wire_broken"
        environment[key] = InputVariable(key, "bool")
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
        {wire.tag: _read(wire, look, tags[wire.tag]) for wire in plant.inputs},
        _powered(plant, look),
        {key: _coerced(node_of(after[key]), each.type) for key, each in states.items()},
        {key: each.every_ms for key, each in assembly.environment.items() if each.source == "noise"},
    )


def _as(type_: Type, value: Any) -> Any:
    return {"bool": bool, "int": int, "real": float}[type_](value)


def _coerced(node: Node, type_: Type) -> Node:
    if node.type == type_:
        return node
    if type_ == "real":
        return apply("real", node)
    raise TypeError(f"a part gave {node.type} where {type_} is declared")


def _live(supply: str | None, look: Mapping[str, Node]) -> Node:
    return ON if supply is None else look[f"{supply}.live"]


def _powered(plant: Plant, look: Mapping[str, Node]) -> Node:
    return both(_live(plant.controller_supply, look), inverse(variable("controller!cut", "bool")))


# ----------------------------------------------------------------------- wiring


def _read(wire: InputWire, look: Mapping[str, Node], tag: Tag) -> Node:
    """What the tag's terminal gives: off, or a signal of 0, where supply or wire are gone."""
    reaches = both(_live(wire.module_supply, look), inverse(variable(f"{wire.terminal}!wire_broken", "bool")))
    if tag.type == "bool":
        return both(reaches, look[wire.source]) if wire.source is not None else OFF
    source = look[wire.source] if wire.source is not None else constant(0.0)
    if wire.channel is None:
        return select(reaches, _coerced(source, tag.type), typed_constant(tag.type, 0))
    return _measured(wire.channel, select(reaches, _coerced(source, "real"), constant(0.0)))


def _measured(channel: Channel, signal: Node) -> Node:
    """A signal as its channel turns it into counts, or leaves it."""
    low, high = float(channel.low), float(channel.high)
    if channel.counts_low is None or channel.counts_high is None:
        return clamp(signal, low, high)
    counts = _between(signal, low, high, float(channel.counts_low), float(channel.counts_high))
    return clamp(apply("round", counts), channel.counts_low, channel.counts_high)


def _between(x: Node, a: float, b: float, c: float, d: float) -> Node:
    """c + ((x - a) * (d - c)) / (b - a), in that order."""
    product = apply("mul", apply("sub", x, constant(a)), constant(d - c))
    return apply("add", constant(c), apply("quotient", product, constant(b - a)))


def _given(wire: OutputWire, look: Mapping[str, Node], tag: Tag) -> Node:
    """What an output terminal gives to whatever is wired to it."""
    reaches = both(_live(wire.module_supply, look), inverse(variable(f"{wire.terminal}!wire_broken", "bool")))
    value = variable(terminal(wire.tag), tag.type)
    if wire.channel is not None:
        reaches = both(reaches, variable(driven(wire.tag), "bool"))
        low, high = float(wire.channel.low), float(wire.channel.high)
        value = apply("real", value) if tag.type == "int" else value
        if wire.channel.counts_low is not None and wire.channel.counts_high is not None:
            counts = float(wire.channel.counts_low), float(wire.channel.counts_high)
            value = _between(value, counts[0], counts[1], low, high)
        value = clamp(value, low, high)
    return select(reaches, value, typed_constant(value.type, 0))


def _driven(plant: Plant, look: Mapping[str, Node], tags: Mapping[str, Tag]) -> dict[str, Node]:
    drive: dict[str, Node] = {}
    given = {wire.tag: _given(wire, look, tags[wire.tag]) for wire in plant.outputs}
    for wire in plant.outputs:
        if wire.target is not None:
            drive[wire.target] = given[wire.tag]
    for circuit in plant.circuits:
        drive |= _circuit(circuit, look, given)
    return drive


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
        power = _live(circuit.supply, look)
        for element in rung.elements:
            if isinstance(element, Stage):
                raise TypeError("a circuit has no stages")
            power = both(power, lower(element.expression, scope))
        for output in rung.outputs:
            conducts = power if output.when is None else both(power, lower(output.when, scope))
            (nodes if output.target_kind == "node" else drive)[output.target] = conducts
    return drive
