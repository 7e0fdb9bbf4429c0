"""The plant beside the controller: what terminals read and give, what circuits drive, one tick."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_numbers import clamped, of_type, on_line
from rungproof.logic.engines.reference_scan import nothing
from rungproof.logic.meaning.program import Channel, Circuit, Condition, InputWire, OutputWire, Plant, Tag
from rungproof.logic.meaning.typed import Scalar, Type
from rungproof.plant.operators import PLAIN

Values = Mapping[str, Any]

#: What an output terminal holds: a tag's value, or None while nothing drives it.
Held = Scalar | None


def alive(supply: str | None, look: Values) -> bool:
    """Whether a supply is there; what has no supply declared always has one."""
    return supply is None or bool(look[f"{supply}.live"])


def powered(plant: Plant, look: Values, env: Values) -> bool:
    """Whether the controller has power at this instant."""
    return alive(plant.controller_supply, look) and not env["controller!cut"]


# ---------------------------------------------------------------------- wiring


def read(wire: InputWire, tag: Tag, look: Values, env: Values) -> Scalar:
    """What an input tag reads from its terminal."""
    reaches = alive(wire.module_supply, look) and not env[f"{wire.terminal}!wire_broken"]
    signal = look[wire.source] if reaches and wire.source is not None else 0
    if wire.channel is not None:
        return measured(wire.channel, float(signal))
    return of_type(tag.type, signal)


def measured(channel: Channel, signal: float) -> int | float:
    """A signal in the channel's unit as the channel reads it: counts, or the signal held to its range."""
    low, high = float(channel.low), float(channel.high)
    if channel.counts_low is None or channel.counts_high is None:
        return float(clamped(signal, low, high))
    first = float(channel.counts_low)
    counts = round(on_line(signal, low, high - low, first, float(channel.counts_high) - first))
    return int(clamped(counts, channel.counts_low, channel.counts_high))


def sent(channel: Channel, value: int | float) -> float:
    """A tag's value as the channel sends it, in the channel's unit."""
    low, high = float(channel.low), float(channel.high)
    signal = float(value)
    if channel.counts_low is not None and channel.counts_high is not None:
        first = float(channel.counts_low)
        signal = on_line(signal, first, float(channel.counts_high) - first, low, high - low)
    return float(clamped(signal, low, high))


def given(wire: OutputWire, tag: Tag, held: Held, look: Values, env: Values) -> Scalar:
    """What an output terminal gives to whatever is wired to it."""
    gone = held is None or not alive(wire.module_supply, look) or env[f"{wire.terminal}!wire_broken"]
    if wire.channel is not None:
        return 0.0 if held is None or gone else sent(wire.channel, held)
    return nothing(tag) if held is None or gone else held


# -------------------------------------------------------------------- circuits


def solve_circuit(
    circuit: Circuit, look: Values, terminals: Mapping[str, Any], noted: dict[Span, bool] | None = None
) -> dict[str, bool]:
    """What each drive key of a circuit gets. Its rungs stand so that nodes are driven before they are read.

    `noted` is given what each contact was worth, by its place, and by a rung's place whether its rail is live.
    """
    nodes: dict[str, bool] = {}
    driven: dict[str, bool] = {}
    moment = Moment(plant=look, nodes=nodes, terminals=terminals, noted=noted)
    for rung in circuit.rungs:
        power = alive(circuit.supply, look)
        if noted is not None:
            noted[rung.span] = power
        for element in rung.elements:
            assert isinstance(element, Condition), "a circuit has contacts only"
            conducts = evaluate(element.expression, moment)
            power = power and conducts
        for output in rung.outputs:
            reaches = power if output.when is None else power and evaluate(output.when, moment)
            target = nodes if output.target_kind == "node" else driven
            target[output.target] = reaches
    return driven


# ------------------------------------------------------------------- the plant


def kinds_of(plant: Plant) -> dict[str, Type]:
    """Every environment key of a plant with its type."""
    kinds: dict[str, Type] = {key: each.type for key, each in plant.assembly.environment.items()}
    terminals = [wire.terminal for wire in plant.inputs] + [wire.terminal for wire in plant.outputs]
    return {**kinds, **{f"{terminal}!wire_broken": "bool" for terminal in terminals}}


class Machine:
    """A plant in a run: the state of its parts, and how one tick passes."""

    def __init__(self, plant: Plant, tags: Mapping[str, Tag]) -> None:
        self.plant = plant
        self.tags = tags
        self.state: dict[str, Any] = plant.assembly.start()
        self.noted: dict[Span, bool] | None = None

    def look(self, env: Values) -> dict[str, Any]:
        """The truth at this instant, by look key."""
        return self.plant.assembly.look(PLAIN, self.state, env)

    def read(self, look: Values, env: Values) -> dict[str, Scalar]:
        """What every input tag reads."""
        return {wire.tag: read(wire, self.tags[wire.tag], look, env) for wire in self.plant.inputs}

    def drives(self, look: Values, env: Values, held: Mapping[str, Held]) -> dict[str, Scalar]:
        """What wires and circuits drive, by drive key."""
        terminals = {
            wire.tag: given(wire, self.tags[wire.tag], held[wire.tag], look, env) for wire in self.plant.outputs
        }
        driven = {wire.target: terminals[wire.tag] for wire in self.plant.outputs if wire.target is not None}
        for circuit in self.plant.circuits:
            driven.update(solve_circuit(circuit, look, terminals, self.noted))
        return driven

    def tick(self, look: Values, env: Values, held: Mapping[str, Held]) -> None:
        """Let one tick pass."""
        self.state = self.plant.assembly.tick(PLAIN, self.state, look, self.drives(look, env, held), env)
