"""What can fail between a part and the program: the wire, its ends, the terminal, the channel.

From the part to the card, in the order in which a signal passes them:

    broken_at_part      the wire is off at the far end
    shorted_to_supply   the wire touches the live rail of the module's supply: on, or full scale
    shorted_to_zero     the wire touches 0 V: off, or 0; where both shorts stand, this one wins
    wire_broken         the wire is off at the terminal
    floats              an analog input is open and stands at half its range
    stays_on, stays_off the card's own channel; `stays_full`, `stays_zero` where it is analog
    range_wrong         the channel's jumper stands on another range, see `wrong_range`
    frozen              an analog input gives what it gave in the scan before
    swapped_with_next   this wire and that of the next terminal of its module and kind are exchanged

An output's signal passes the same places the other way; a circuit that reads the terminal reads
what is on the wire, behind the terminal. Without its module's supply a terminal reads and gives
nothing, and a card that stays on stays on only while that supply is there. A circuit with a
fuse of its own is not modelled: a short takes nothing else with it.
Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from rungproof.logic.meaning.program import Channel, InputWire, OutputWire, Plant
from rungproof.plant.part import Fault

#: A terminal's name ends in its number, `X1:3`.
Wire = InputWire | OutputWire

WIRE_BROKEN = Fault("wire_broken", "the wire at this terminal is broken")
BROKEN_AT_PART = Fault("broken_at_part", "the wire is broken at its far end, at the part")
SWAPPED = Fault("swapped_with_next", "this wire and that of the next terminal are exchanged")
FROZEN = "frozen"

_SHORTS = (
    Fault("shorted_to_supply", "the wire touches the supply's live rail"),
    Fault("shorted_to_zero", "the wire touches 0 V"),
)
_RANGE = Fault("range_wrong", "the channel's jumper stands on another range")
_INPUT = (
    Fault("stays_on", "the card's input reads on, whatever the wire brings"),
    Fault("stays_off", "the card's input reads off, whatever the wire brings"),
)
_ANALOG_INPUT = (
    Fault("floats", "the open input floats, and stands at half its range"),
    Fault(FROZEN, "the channel gives again and again what it gave last"),
    _RANGE,
)
_OUTPUT = (
    Fault("stays_on", "the card's output stays on, whatever the program says"),
    Fault("stays_off", "the card's output stays off, whatever the program says"),
)
_ANALOG_OUTPUT = (
    Fault("stays_full", "the channel gives full scale, whatever the program says"),
    Fault("stays_zero", "the channel gives nothing, whatever the program says"),
    _RANGE,
)


def faults_of_wires(wires: Sequence[Wire]) -> dict[str, tuple[Fault, ...]]:
    """The faults of every terminal that has a wire, by terminal."""
    next_to = neighbours(wires)
    return {wire.terminal: _faults_of(wire, wire.terminal in next_to) for wire in wires}


def _faults_of(wire: Wire, has_next: bool) -> tuple[Fault, ...]:
    if isinstance(wire, InputWire):
        leads, own = wire.source is not None, _INPUT if wire.channel is None else _ANALOG_INPUT
    else:
        leads, own = wire.target is not None, _OUTPUT if wire.channel is None else _ANALOG_OUTPUT
    far = (BROKEN_AT_PART,) if leads else ()
    return (WIRE_BROKEN, *far, *_SHORTS, *((SWAPPED,) if has_next else ()), *own)


def wires_of(plant: Plant) -> tuple[Wire, ...]:
    """Every wire at a terminal: inputs, then outputs."""
    return (*plant.inputs, *plant.outputs)


def neighbours(wires: Sequence[Wire]) -> dict[str, str]:
    """The next terminal of each: of the same module, the same direction and the same kind of signal."""
    rows: dict[tuple[object, ...], list[str]] = {}
    for wire in wires:
        if isinstance(wire, InputWire) and wire.source is None:
            continue  # a spare terminal has no wire to exchange
        module = wire.terminal.partition(":")[0]
        unit = wire.channel.unit.symbol if wire.channel is not None else None
        rows.setdefault((type(wire), module, unit), []).append(wire.terminal)
    found: dict[str, str] = {}
    for row in rows.values():
        ordered = sorted(row, key=_number)
        found.update(pairwise(ordered))
    return found


def _number(terminal: str) -> tuple[int, str]:
    """Terminals in the order of their numbers: X1:2 before X1:10."""
    last = terminal.rpartition(":")[2]
    return (int(last), "") if last.isdecimal() else (0, last)


def in_order(wires: Sequence[Wire], next_to: Mapping[str, str]) -> list[tuple[str, str]]:
    """The pairs that may be swapped, in the order in which swaps are worked out: one after another."""
    return [(wire, next_to[wire]) for wire in sorted((w.terminal for w in wires), key=_number) if wire in next_to]


def wrong_range(channel: Channel) -> tuple[float, float]:
    """The range (V or mA) on which a wrongly set channel stands: 0..20 where 4..20 is meant, 0..5 where 0..10 is.

    A range that begins at 0 is halved; any other begins at 0 instead.
    """
    low, high = float(channel.low), float(channel.high)
    return (0.0, high / 2) if low == 0 else (0.0, high)
