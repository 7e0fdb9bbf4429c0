"""The plant beside the controller: what terminals read and give, what circuits drive, one tick."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_numbers import clamped, of_type, on_line
from rungproof.logic.engines.reference_scan import nothing
from rungproof.logic.meaning.program import Channel, Circuit, Condition, InputWire, OutputWire, Plant, Tag
from rungproof.logic.meaning.terminals import FROZEN, faults_of_wires, in_order, neighbours, wires_of, wrong_range
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


def fails(terminal: str, fault: str, env: Values) -> bool:
    """Whether a fault stands at a terminal; one that it cannot have never does."""
    return bool(env.get(f"{terminal}!{fault}", False))


def exchanged(plant: Plant, pairs: Iterable[tuple[str, str]], env: Values) -> dict[str, str]:
    """Which terminal's wire each terminal has: its own, but for those of `pairs` that were swapped."""
    has = {wire.terminal: wire.terminal for wire in wires_of(plant)}
    for one, other in pairs:
        if fails(one, "swapped_with_next", env):
            has[one], has[other] = has[other], has[one]
    return has


def read(wire: InputWire, source: str | None, tag: Tag, look: Values, env: Values, *, before: Scalar) -> Scalar:
    """What an input tag reads from its terminal: `source` is what its wire brings, `before` what it read last."""
    live, place = alive(wire.module_supply, look), wire.terminal
    full: Scalar = True if wire.channel is None else float(wire.channel.high)
    signal: Scalar = look[source] if source is not None and not fails(place, "broken_at_part", env) else 0
    if fails(place, "shorted_to_supply", env):
        signal = full
    if fails(place, "shorted_to_zero", env) or fails(place, "wire_broken", env):
        signal = 0
    if not live:
        signal = 0
    if wire.channel is None:
        on = (bool(signal) or (fails(place, "stays_on", env) and live)) and not fails(place, "stays_off", env)
        return on if tag.type == "bool" else of_type(tag.type, signal)
    if fails(place, "floats", env) and live:
        signal = (float(wire.channel.low) + float(wire.channel.high)) / 2
    if fails(place, FROZEN, env):
        return before
    if fails(place, "range_wrong", env):
        return misread(wire.channel, float(signal))
    return measured(wire.channel, float(signal))


def misread(channel: Channel, signal: float) -> int | float:
    """A signal as the channel reads it while its jumper stands on another range."""
    low, high = wrong_range(channel)
    counts = channel.counts_low is not None and channel.counts_high is not None
    first, last = (channel.counts_low, channel.counts_high) if counts else (channel.low, channel.high)
    assert first is not None and last is not None
    found = on_line(signal, low, high - low, float(first), float(last) - float(first))
    return int(clamped(round(found), first, last)) if counts else float(clamped(found, float(first), float(last)))


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


def missent(channel: Channel, value: int | float) -> float:
    """A tag's value as the channel sends it while its jumper stands on another range."""
    low, high = wrong_range(channel)
    counts = channel.counts_low is not None and channel.counts_high is not None
    first, last = (channel.counts_low, channel.counts_high) if counts else (channel.low, channel.high)
    assert first is not None and last is not None
    signal = on_line(float(value), float(first), float(last) - float(first), low, high - low)
    return float(clamped(signal, low, high))


def from_card(wire: OutputWire, tag: Tag, held: Held, look: Values, env: Values) -> Scalar:
    """What the card puts on an output terminal."""
    live, place = alive(wire.module_supply, look), wire.terminal
    if wire.channel is None:
        on = nothing(tag) if held is None or not live else held
        if tag.type != "bool":
            return on
        return (bool(on) or (fails(place, "stays_on", env) and live)) and not fails(place, "stays_off", env)
    if not live or fails(place, "stays_zero", env):
        return 0.0
    if fails(place, "stays_full", env):
        return float(wire.channel.high)
    if held is None:
        return 0.0
    return missent(wire.channel, held) if fails(place, "range_wrong", env) else sent(wire.channel, held)


def on_wire(wire: OutputWire, card: Scalar, look: Values, env: Values) -> Scalar:
    """What is on the wire behind an output terminal, for whoever is wired to it; `card` is what reaches it."""
    place, nil = wire.terminal, 0.0 if wire.channel is not None else type(card)(0)
    if fails(place, "shorted_to_zero", env):
        return nil
    if fails(place, "shorted_to_supply", env) and alive(wire.module_supply, look):
        return True if wire.channel is None else float(wire.channel.high)
    return nil if fails(place, "wire_broken", env) else card


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
    places = faults_of_wires(wires_of(plant)).items()
    return {**kinds, **{f"{place}!{fault.name}": "bool" for place, faults in places for fault in faults}}


class Machine:
    """A plant in a run: the state of its parts, and how one tick passes."""

    def __init__(self, plant: Plant, tags: Mapping[str, Tag]) -> None:
        self.plant = plant
        self.tags = tags
        self.pairs = in_order(wires_of(plant), neighbours(wires_of(plant)))
        self.state: dict[str, Any] = plant.assembly.start()
        self.noted: dict[Span, bool] | None = None

    def look(self, env: Values) -> dict[str, Any]:
        """The truth at this instant, by look key."""
        return self.plant.assembly.look(PLAIN, self.state, env)

    def read(self, look: Values, env: Values, before: Mapping[str, Scalar]) -> dict[str, Scalar]:
        """What every input tag reads; `before` is what the tags hold."""
        has = exchanged(self.plant, self.pairs, env)
        source = {wire.terminal: wire.source for wire in self.plant.inputs}
        return {
            wire.tag: read(wire, source[has[wire.terminal]], self.tags[wire.tag], look, env, before=before[wire.tag])
            for wire in self.plant.inputs
        }

    def drives(self, look: Values, env: Values, held: Mapping[str, Held]) -> dict[str, Scalar]:
        """What wires and circuits drive, by drive key."""
        has = exchanged(self.plant, self.pairs, env)
        cards = {w.terminal: from_card(w, self.tags[w.tag], held[w.tag], look, env) for w in self.plant.outputs}
        wires = {w.tag: on_wire(w, cards[has[w.terminal]], look, env) for w in self.plant.outputs}
        driven: dict[str, Scalar] = {}
        fed: dict[str, str | None] = {}
        for wire in self.plant.outputs:
            if wire.target is not None:
                reaches = not fails(wire.terminal, "broken_at_part", env)
                driven[wire.target] = wires[wire.tag] if reaches else type(wires[wire.tag])(0)
                fed[wire.target] = wire.module_supply
        for circuit in self.plant.circuits:
            found = solve_circuit(circuit, look, wires, self.noted)
            driven.update(found)
            fed.update(dict.fromkeys(found, circuit.supply))
        return {key: self._pulls(key, value, fed[key], look, env) for key, value in driven.items()}

    def _pulls(self, key: str, value: Scalar, supply: str | None, look: Values, env: Values) -> Scalar:
        """A coil on a sagging supply holds what it has pulled in, and pulls nothing in anew."""
        part = key.partition(".")[0]
        if f"{part}.pulled_in" in look and env.get(f"{supply}!sagging", False):
            return bool(value) and bool(look[f"{part}.pulled_in"])
        return value

    def tick(self, look: Values, env: Values, held: Mapping[str, Held]) -> None:
        """Let one tick pass."""
        self.state = self.plant.assembly.tick(PLAIN, self.state, look, self.drives(look, env, held), env)
