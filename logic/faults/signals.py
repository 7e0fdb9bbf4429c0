"""Loss of signal: what the program believes when an analog input is lost, and who notices.

Each input is lost in four ways: at 0 V or 0 mA, at full scale, frozen, and floating (an open input,
taken to stand at half its range). Where 4..20 mA is sent, NAMUR NE 43 keeps bands for failure: 3.6 mA
and less, 21 mA and more (from a secondary page). On 0..10 V there is no such band: a loss looks like a
reading, and only something else can tell it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rungproof.logic.checks.expressions import walk
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.words import exactly, rounded
from rungproof.logic.faults.result import FaultRow, SignalLoss
from rungproof.logic.faults.situations import Situation
from rungproof.logic.meaning.program import Channel, Event, InputWire, Program
from rungproof.logic.meaning.typed import Expression, TagValue

#: How long after the loss the program's numbers are read (ms).
READ_MS = 1000

#: NE 43's failure currents (mA), from a secondary page.
FAILS_LOW_MA, FAILS_HIGH_MA = 3.6, 21.0

#: How a signal is lost, and the fault that does it.
WAYS = (("0", "shorted_to_zero"), ("full scale", "shorted_to_supply"), ("frozen", "frozen"), ("floating", "floats"))


def losses_of(program: Program, situations: Sequence[Situation], rows: Mapping[str, FaultRow]) -> Iterator[SignalLoss]:
    """Four losses for every analog input that is wired, in the first situation; `rows` are those of the table."""
    assert program.plant is not None
    for wire in program.plant.inputs:
        if wire.channel is None or wire.source is None:
            continue
        for how, fault in WAYS:
            row = rows.get(f"{wire.terminal} {fault}")
            if row is not None:
                yield _loss(program, situations, wire, how if how != "0" else f"0 {wire.channel.unit.symbol}", row)


def _loss(program: Program, situations: Sequence[Situation], wire: InputWire, how: str, row: FaultRow) -> SignalLoss:
    channel = wire.channel
    assert channel is not None
    reads, believes, story = "not tried: no run sets the machine going", "", ""
    if situations:
        here = situations[0]
        at = here.running_ms
        events = [*here.until(at, here.asked_ms), Event(at, f"{wire.terminal}!{row.fault}", True)]
        until = at + READ_MS - READ_MS % here.runs.tick
        told = here.runs.end(until, events, here.running)
        healthy = here.runs.end(until, here.until(at, here.asked_ms), here.running)
        reads = f"{rounded(told.final[wire.tag])} in place of {rounded(healthy.final[wire.tag])}"
        names = _believed(program, wire.tag)
        said = [f"{name} {_value(program, name, told.final[name])}" for name in names]
        believes = f"the program takes {', '.join(said)}" if said else "no number of the program hangs on it"
        story = story_block(program, told.story, f"{wire.tag} lost: {how}")
    noticed = row.detected if row.shows in ("at once", "later") else None
    if noticed is None and row.broken:
        noticed = f"requirement {', '.join(row.broken)}"
    return SignalLoss(
        tag=wire.tag,
        terminal=wire.terminal,
        signal=f"{exactly(channel.low)}..{exactly(channel.high)} {channel.unit.symbol}",
        how=how,
        fault=row.fault,
        reads=reads,
        believes=believes,
        goes=row.does or "nothing follows from it",
        noticed=noticed,
        noticed_ms=row.detected_ms if noticed == row.detected else None,
        mends=mends(wire, channel),
        story=story,
    )


def _value(program: Program, name: str, value: float) -> str:
    assert program.controller is not None
    unit = program.controller.tags[name].unit
    return f"{rounded(value, 4)}{f' {unit.symbol}' if unit is not None else ''}"


def _believed(program: Program, tag: str) -> list[str]:
    """The numbers of the program that are worked out from an input, nearest first."""
    assert program.controller is not None
    outputs = [output for rung in program.controller.rungs for output in rung.outputs if output.value is not None]
    found = [tag]
    for _ in outputs:
        for output in outputs:
            if output.target not in found and output.value is not None and _reads(output.value, found):
                found.append(output.target)
    return [name for name in found[1:] if program.controller.tags[name].role == "memory"]


def _reads(expression: Expression, names: Sequence[str]) -> bool:
    return any(isinstance(each, TagValue) and each.tag in names for each in walk(expression))


def mends(wire: InputWire, channel: Channel) -> str:
    """What tells a loss from a reading, or would."""
    if channel.unit.symbol == "mA" and channel.low >= FAILS_LOW_MA:
        return (
            f"{wire.tag}: this channel begins at {exactly(channel.low)} mA and "
            f"reads anything below as {exactly(channel.low)} mA. "
            f"Set it to 0..20 mA and compare: {FAILS_LOW_MA:g} mA and less is a failure (NE 43)."
        )
    if channel.unit.symbol == "mA":
        low = _at(channel, FAILS_LOW_MA)
        high = ""
        if channel.high >= FAILS_HIGH_MA:
            high = f", {FAILS_HIGH_MA:g} mA and more ({rounded(_at(channel, FAILS_HIGH_MA))}) too"
        return (
            f"{wire.tag}: {FAILS_LOW_MA:g} mA and less is a failure (NE 43), {rounded(low)} here{high}; let some "
            "seconds pass before it is believed."
        )
    if channel.low > 0:
        return f"{wire.tag}: below {exactly(channel.low)} {channel.unit.symbol} nothing is measured: compare with that."
    return (
        f"{wire.tag}: a loss looks like a reading, for 0 {channel.unit.symbol} is one. Mends that exist: a signal with "
        "a live zero (4..20 mA, 2..10 V); the transmitter's own fault contact; a second sensor of another kind that is "
        "compared; a watch on whether the reading moves while the plant does; a guard that does not need the signal."
    )


def _at(channel: Channel, signal: float) -> float:
    if channel.counts_low is None or channel.counts_high is None:
        return signal
    share = (signal - channel.low) / (channel.high - channel.low)
    return round(channel.counts_low + share * (channel.counts_high - channel.counts_low))
