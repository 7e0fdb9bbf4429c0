"""Terminals lowered: what each input tag reads, what each output gives, with the faults of wires and cards.

See `meaning/terminals.py` for what each fault does and in which order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rungproof.logic.meaning.program import Channel, InputWire, OutputWire, Plant, Tag
from rungproof.logic.meaning.terminals import FROZEN, Wire, in_order, neighbours, wires_of, wrong_range
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    clamp,
    constant,
    either,
    inverse,
    select,
    typed_constant,
    variable,
)

Nodes = Mapping[str, Node]


def terminal(tag: str) -> str:
    """The name of the value that the controller last put on this tag's terminal."""
    return f"{tag}#terminal"


def driven(tag: str) -> str:
    """The name of whether the controller drives this tag's terminal."""
    return f"{tag}#driven"


def before(tag: str) -> str:
    """The name of what this input tag read in the scan before."""
    return f"{tag}#before"


def live(supply: str | None, look: Nodes) -> Node:
    """Whether a supply is there; what has none declared always has one."""
    return ON if supply is None else look[f"{supply}.live"]


def fails(wire: Wire, fault: str) -> Node:
    """Whether a fault stands at a wire's terminal."""
    return variable(f"{wire.terminal}!{fault}", "bool")


def swaps(plant: Plant, wires: Sequence[Wire], at: Mapping[str, Node]) -> dict[str, Node]:
    """What stands at each terminal of `wires` once neighbours have been exchanged: `at` has it before."""
    has = {wire.terminal: at[wire.terminal] for wire in wires}
    by_terminal = {wire.terminal: wire for wire in wires}
    for one, other in in_order(wires, neighbours(wires_of(plant))):
        if other in has:
            swapped = fails(by_terminal[one], "swapped_with_next")
            has[one], has[other] = select(swapped, has[other], has[one]), select(swapped, has[one], has[other])
    return has


# ----------------------------------------------------------------------- inputs


def reads(plant: Plant, look: Nodes, tags: Mapping[str, Tag]) -> dict[str, Node]:
    """What each input tag reads, by tag."""
    sources = {wire.terminal: _source(wire, look) for wire in plant.inputs}
    has = swaps(plant, plant.inputs, sources)
    return {wire.tag: _read(wire, has[wire.terminal], look, tags[wire.tag]) for wire in plant.inputs}


def _source(wire: InputWire, look: Nodes) -> Node:
    """What its part puts on a wire; a signal is a real."""
    if wire.source is None:
        return OFF if wire.channel is None else constant(0.0)
    source = look[wire.source]
    return apply("real", source) if wire.channel is not None and source.type != "real" else source


def _read(wire: InputWire, source: Node, look: Nodes, tag: Tag) -> Node:
    there = live(wire.module_supply, look)
    type_ = source.type
    full = typed_constant(type_, 1 if wire.channel is None else wire.channel.high)
    nothing = typed_constant(type_, 0)
    signal = select(fails(wire, "broken_at_part"), nothing, source)
    signal = select(fails(wire, "shorted_to_supply"), full, signal)
    gone = either(fails(wire, "shorted_to_zero"), fails(wire, "wire_broken"), inverse(there))
    signal = select(gone, nothing, signal)
    if wire.channel is None:
        if tag.type == "bool":
            return both(either(signal, both(fails(wire, "stays_on"), there)), inverse(fails(wire, "stays_off")))
        return signal if type_ == tag.type else apply("real", signal)
    middle = constant((float(wire.channel.low) + float(wire.channel.high)) / 2)
    signal = select(both(fails(wire, "floats"), there), middle, signal)
    right, wrong = _measured(wire.channel, signal), _misread(wire.channel, signal)
    seen = select(fails(wire, "range_wrong"), wrong, right)
    return select(fails(wire, FROZEN), variable(before(wire.tag), tag.type), seen)


def _measured(channel: Channel, signal: Node) -> Node:
    """A signal as its channel turns it into counts, or leaves it."""
    low, high = float(channel.low), float(channel.high)
    if channel.counts_low is None or channel.counts_high is None:
        return clamp(signal, low, high)
    counts = _between(signal, low, high, float(channel.counts_low), float(channel.counts_high))
    return clamp(apply("round", counts), channel.counts_low, channel.counts_high)


def _misread(channel: Channel, signal: Node) -> Node:
    """A signal as its channel turns it into counts while the jumper stands on another range."""
    low, high = wrong_range(channel)
    if channel.counts_low is None or channel.counts_high is None:
        seen = _between(signal, low, high, float(channel.low), float(channel.high))
        return clamp(seen, float(channel.low), float(channel.high))
    counts = _between(signal, low, high, float(channel.counts_low), float(channel.counts_high))
    return clamp(apply("round", counts), channel.counts_low, channel.counts_high)


def _between(x: Node, a: float, b: float, c: float, d: float) -> Node:
    """c + ((x - a) * (d - c)) / (b - a), in that order."""
    product = apply("mul", apply("sub", x, constant(a)), constant(d - c))
    return apply("add", constant(c), apply("quotient", product, constant(b - a)))


# ---------------------------------------------------------------------- outputs


def wires_out(plant: Plant, look: Nodes, tags: Mapping[str, Tag]) -> dict[str, Node]:
    """What is on the wire behind each output's terminal, by tag."""
    cards = {wire.terminal: _from_card(wire, look, tags[wire.tag]) for wire in plant.outputs}
    has = swaps(plant, plant.outputs, cards)
    return {wire.tag: _on_wire(wire, has[wire.terminal], look) for wire in plant.outputs}


def to_part(wire: OutputWire, value: Node) -> Node:
    """What of it reaches the part that the wire leads to."""
    return select(fails(wire, "broken_at_part"), typed_constant(value.type, 0), value)


def _from_card(wire: OutputWire, look: Nodes, tag: Tag) -> Node:
    there, value = live(wire.module_supply, look), variable(terminal(wire.tag), tag.type)
    if wire.channel is None:
        if tag.type != "bool":
            return select(there, value, typed_constant(tag.type, 0))
        return both(there, either(value, fails(wire, "stays_on")), inverse(fails(wire, "stays_off")))
    value = apply("real", value) if tag.type == "int" else value
    given = select(fails(wire, "range_wrong"), _missent(wire.channel, value), _sent(wire.channel, value))
    given = select(variable(driven(wire.tag), "bool"), given, constant(0.0))
    given = select(fails(wire, "stays_full"), constant(float(wire.channel.high)), given)
    return select(both(there, inverse(fails(wire, "stays_zero"))), given, constant(0.0))


def _sent(channel: Channel, value: Node) -> Node:
    low, high = float(channel.low), float(channel.high)
    if channel.counts_low is not None and channel.counts_high is not None:
        value = _between(value, float(channel.counts_low), float(channel.counts_high), low, high)
    return clamp(value, low, high)


def _missent(channel: Channel, value: Node) -> Node:
    """A value as it is sent while the channel's jumper stands on another range."""
    low, high = wrong_range(channel)
    first, last = channel.low, channel.high
    if channel.counts_low is not None and channel.counts_high is not None:
        first, last = channel.counts_low, channel.counts_high
    return clamp(_between(value, float(first), float(last), low, high), low, high)


def _on_wire(wire: OutputWire, card: Node, look: Nodes) -> Node:
    nothing = typed_constant(card.type, 0)
    full = typed_constant(card.type, 1 if wire.channel is None else wire.channel.high)
    value = select(fails(wire, "wire_broken"), nothing, card)
    value = select(both(fails(wire, "shorted_to_supply"), live(wire.module_supply, look)), full, value)
    return select(fails(wire, "shorted_to_zero"), nothing, value)
