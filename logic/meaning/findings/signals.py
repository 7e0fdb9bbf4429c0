"""Channels against the signals wired to them, and signals whose loss looks like a reading."""

from __future__ import annotations

from typing import Any

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.believes import Sensor, believed, nominal, reading, sensors_of
from rungproof.logic.meaning.program import Channel, InputWire, Program
from rungproof.logic.meaning.units import known_unit

#: A channel up to so many times as wide as its signal is still a fair choice: 0..24 mA for 4..20 mA.
_FAIRLY_WIDE = 1.25


def find_in_signals(program: Program, reporter: Reporter) -> None:
    """Every analog wire."""
    plant = program.plant
    if plant is None:
        return
    parts = {part.name: part for part in plant.assembly.parts}
    for wire in plant.inputs:
        if wire.source is None or wire.channel is None:
            continue
        part = parts[wire.source.partition(".")[0]]
        shown = plant.assembly.outputs[wire.source]
        signal = nominal(part) or (float(shown.low), float(shown.high))
        _find_mismatch(wire, wire.channel, signal, part.name, reporter)
        _find_silent_loss(program, wire, wire.channel, signal, reporter)
    for output in plant.outputs:
        if output.target is None or output.channel is None:
            continue
        drive = plant.assembly.driven[output.target]
        if (output.channel.low, output.channel.high) != (drive.low, drive.high):
            reporter.report(
                "channel-against-drive",
                output.span,
                channel=_range(output.channel.low, output.channel.high, output.channel),
                drive=_range(drive.low, drive.high, output.channel),
                name=output.target,
            )


def _range(low: float, high: float, channel: Channel) -> str:
    return f"{low:g}..{high:g} {channel.unit.symbol}"


def _find_mismatch(
    wire: InputWire, channel: Channel, signal: tuple[float, float], part: str, reporter: Reporter
) -> None:
    """A narrower channel loses part of the signal; a much wider one is most likely a wrong jumper.

    A channel from 0 for a signal that starts above 0 is right: it sees the loss.
    """
    fields: dict[str, Any] = {
        "channel": _range(channel.low, channel.high, channel),
        "signal": _range(*signal, channel),
        "name": part,
    }
    if channel.low > signal[0] or channel.high < signal[1]:
        reporter.report("channel-narrower-than-signal", wire.span, **fields)
    elif channel.high > signal[1] * _FAIRLY_WIDE or channel.low < min(0.0, signal[0]):
        reporter.report("channel-wider-than-signal", wire.span, **fields)


def _find_silent_loss(
    program: Program, wire: InputWire, channel: Channel, signal: tuple[float, float], reporter: Reporter
) -> None:
    """A broken wire gives 0: does the tag then hold what it could hold with the wire whole?"""
    lost = reading(channel, 0.0)
    ends = sorted(reading(channel, end) for end in signal)
    if not ends[0] <= lost <= ends[1]:
        return
    values = {wire.tag: lost} | believed(program, wire.tag, lost)
    tags = program.controller.tags if program.controller is not None else {}
    told = [name for name in values if name != wire.tag] or [wire.tag]
    shown = [f"{name} {values[name]:.4g}{_unit(tags[name].unit)}" for name in told]
    sensor = next((s for s in sensors_of(program) if s.wire is wire), None)
    reporter.report(
        "loss-looks-like-reading",
        wire.span,
        tag=wire.tag,
        shown=", ".join(shown),
        way=_way(sensor),
        mend="send 4..20 mA into a channel from 0 mA; or see that something else ends it"
        if channel.unit.dimension == known_unit("mA").dimension
        else None,
    )


def _unit(unit: object) -> str:
    symbol = getattr(unit, "symbol", None)
    return f" {symbol}" if symbol else ""


def _way(sensor: Sensor | None) -> str:
    """Which way the plant then goes."""
    if sensor is None:
        return ""
    ends = {sensor.signal_at(sensor.level_at(share)): share for share in (0.0, 1.0)}
    nearest = min(ends, key=lambda end: abs(end - 0.0))
    vessel = sensor.vessel.name
    if ends[nearest] > 0.5:
        return f", which is {vessel} full, so that what fills it stops and what empties it goes on"
    return f", which is {vessel} empty, so that what fills it goes on"
