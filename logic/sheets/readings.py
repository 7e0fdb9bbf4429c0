"""What a meter and the program should read at every terminal: the input and output check.

Analog channels at 0, 25, 50, 75 and 100 % of their signal, upwards and back down, the points
of a loop check (IEC 62382, from memory). What is expected comes out of the model: a level goes
through the transmitter's own equations, the channel and the program's `:=` lines. The tolerance
is a share of the span, to which what the model itself is unsure of is added: the transmitter's
noise and half a count.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from rungproof.logic.checks.words import rounded
from rungproof.logic.engines.reference_plant import measured, sent
from rungproof.logic.meaning.findings.believes import Sensor, believed, nominal, sensors_of
from rungproof.logic.meaning.program import Channel, InputWire, OutputWire, Plant, Program, Tag
from rungproof.logic.sheets.devices import closed_at_start, closes_when, contact_at, kind_words, parts_of
from rungproof.logic.sheets.wiring_list import natural, volts_of
from rungproof.plant.operators import PLAIN

#: Points of the check, in percent of the signal.
POINTS = (0, 25, 50, 75, 100)

#: Tolerance in percent of the span where nobody says otherwise: common practice, no source.
TOLERANCE = 0.5

#: At 24 V DC: what a terminal must see to read on and off (IEC 61131-2, type 1), and what one that
#: is switched on may give (the range of the supply, there). From memory.
READS_ON, READS_OFF, GIVES_ON, GIVES_OFF = (15.0, 30.0), (-3.0, 5.0), (20.4, 28.8), (0.0, 2.0)

Way = Literal["up", "down", ""]

#: Upwards, then back down.
WAYS: tuple[tuple[Way, tuple[int, ...]], ...] = (("up", POINTS), ("down", POINTS[::-1]))


@dataclass(frozen=True, slots=True)
class Band:
    """What is expected, and between which values it is as it should be; no limits where `low` is None."""

    expected: float
    low: float | None
    high: float | None
    unit: str

    def holds(self, value: float) -> bool:
        return self.low is None or self.high is None or self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class Shown:
    """A number that the program works out at a point, and how far it may be off."""

    tag: str
    value: float
    tolerance: float
    unit: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One check. `name` is what it is called in the CSV; `do` says what to bring about.

    `meter` is what a meter should show at the terminal (None: the files name no voltage),
    `program` what the tag should hold: a band of numbers, or on and off as a truth.
    """

    name: str
    terminal: str
    tag: str
    way: Way
    do: str
    meter: Band | None
    program: Band | bool
    shows: tuple[Shown, ...] = ()
    at_start: bool = False


def input_readings(program: Program, tolerance: float = TOLERANCE) -> tuple[Reading, ...]:
    """The check of every input terminal, by terminal. `tolerance` is in percent of the span."""
    plant, controller = program.plant, program.controller
    if plant is None or controller is None:
        return ()
    sensors = {sensor.wire.tag: sensor for sensor in sensors_of(program)}
    rows: list[Reading] = []
    for wire in sorted(plant.inputs, key=lambda wire: natural(wire.terminal)):
        if wire.channel is not None:
            rows += _analog_in(program, plant, wire, wire.channel, sensor=sensors.get(wire.tag), share=tolerance / 100)
        else:
            rows += _contact_in(plant, wire)
    return tuple(rows)


def output_readings(program: Program, tolerance: float = TOLERANCE) -> tuple[Reading, ...]:
    """The check of every output terminal, by terminal."""
    plant, controller = program.plant, program.controller
    if plant is None or controller is None:
        return ()
    rows: list[Reading] = []
    for wire in sorted(plant.outputs, key=lambda wire: natural(wire.terminal)):
        tag = controller.tags[wire.tag]
        if wire.channel is not None:
            rows += _analog_out(wire, tag, wire.channel, tolerance / 100)
        elif tag.type == "bool":
            rows += _switched_out(plant, wire)
    return tuple(rows)


# -------------------------------------------------------------------- switched


def _contact_in(plant: Plant, wire: InputWire) -> Iterator[Reading]:
    volts = volts_of(plant, wire.module_supply)
    found = contact_at(plant, wire.source)
    if found is None:
        do_on, do_off, starts = _signal_words(plant, wire)
    else:
        part, contact = found
        closed, opened = closes_when(part, contact)
        do_on, do_off = (f"{part.name}, {kind_words(part)}: {words}" for words in (closed, opened))
        starts = closed_at_start(plant, str(wire.source))
    for on, do in ((True, do_on), (False, do_off)):
        name = f"{wire.terminal} {'on' if on else 'off'}"
        meter = _switched_band(volts, on, READS_ON, READS_OFF)
        yield Reading(name, wire.terminal, wire.tag, "", do, meter, on, at_start=on == starts)


def _signal_words(plant: Plant, wire: InputWire) -> tuple[str, str, bool]:
    if wire.source is None:
        return "spare: bridge it to its supply", "spare: leave it open", False
    name, _, what = wire.source.partition(".")
    who = f"{name}, {kind_words(parts_of(plant)[name])}: {what}"
    start = bool(plant.assembly.look(PLAIN, plant.assembly.start(), {})[wire.source])
    return f"{who} on", f"{who} off", start


def _switched_out(plant: Plant, wire: OutputWire) -> Iterator[Reading]:
    volts = volts_of(plant, wire.module_supply)
    for on in (True, False):
        name = f"{wire.terminal} {'on' if on else 'off'}"
        meter = _switched_band(volts, on, GIVES_ON, GIVES_OFF)
        yield Reading(
            name, wire.terminal, wire.tag, "", f"the program has {wire.tag} {'on' if on else 'off'}", meter, on
        )


def _switched_band(
    volts: float | None, on: bool, limits_on: tuple[float, float], limits_off: tuple[float, float]
) -> Band | None:
    """Limits are known at 24 V alone; elsewhere the sheet says what to expect and no more."""
    if volts is None:
        return None
    low, high = (limits_on if on else limits_off) if volts == 24 else (None, None)
    return Band(volts if on else 0.0, low, high, "V")


# ---------------------------------------------------------------------- analog


def _analog_in(
    program: Program, plant: Plant, wire: InputWire, channel: Channel, *, sensor: Sensor | None, share: float
) -> Iterator[Reading]:
    source = parts_of(plant)[wire.source.partition(".")[0]] if wire.source is not None else None
    low, high = (nominal(source) if source is not None else None) or (channel.low, channel.high)
    for way, points in WAYS:
        for point in points:
            signal = low + (high - low) * point / 100
            do = f"simulate {rounded(signal)} {channel.unit.symbol}"
            off = share * (high - low)
            if sensor is not None:
                distance = sensor.distance_at(point)
                signal = sensor.signal_at(sensor.mounting - distance)
                do = _level_words(sensor, distance)
                off += _noise(sensor)
            yield _analog_reading(program, wire, channel, point=point, way=way, do=do, signal=signal, off=off)


def _level_words(sensor: Sensor, distance: float) -> str:
    level = sensor.mounting - distance
    words = (
        f"surface {rounded(distance)} cm below {sensor.part.name}: level {rounded(level)} cm in {sensor.vessel.name}"
    )
    return words if sensor.volume_at(level) is not None else f"{words} (beyond the tank: use a target)"


def _noise(sensor: Sensor) -> float:
    """How much the noise of a transmitter moves its signal, at most."""
    noise = sensor.part.given.get("noise", 0.0)
    span = (sensor.high - sensor.low) / (sensor.far - sensor.near)
    return float(noise) * span if isinstance(noise, int | float) else 0.0


def _analog_reading(
    program: Program, wire: InputWire, channel: Channel, *, point: int, way: Way, do: str, signal: float, off: float
) -> Reading:
    unit = channel.unit.symbol
    held = measured(channel, signal)
    ends = [measured(channel, signal - off), measured(channel, signal + off)]
    if channel.counts_low is not None:
        # Half a count either way is the channel's own rounding.
        ends = [max(channel.counts_low, min(ends) - 1), min(int(channel.counts_high or 0), max(ends) + 1)]
    counted = Band(
        float(held), float(min(ends)), float(max(ends)), "counts" if channel.counts_low is not None else unit
    )
    return Reading(
        f"{wire.terminal} {way} {point} %",
        wire.terminal,
        wire.tag,
        way,
        do,
        Band(signal, signal - off, signal + off, unit),
        counted,
        tuple(_shown(program, wire.tag, float(held), [float(end) for end in ends])),
    )


def _shown(program: Program, tag: str, held: float, ends: list[float]) -> Iterator[Shown]:
    """What the program works out of a reading, and how far the reading's limits move it."""
    assert program.controller is not None
    beside = [believed(program, tag, end) for end in ends]
    for name, value in believed(program, tag, held).items():
        unit = program.controller.tags[name].unit
        off = max(abs(each.get(name, value) - value) for each in beside)
        yield Shown(name, value, off, unit.symbol if unit is not None else "")


def _analog_out(wire: OutputWire, tag: Tag, channel: Channel, share: float) -> Iterator[Reading]:
    counted = channel.counts_low is not None and channel.counts_high is not None
    ends = (channel.counts_low, channel.counts_high) if counted else (tag.low, tag.high)
    low, high = (float(end or 0) for end in ends)
    own = tag.unit.symbol if tag.unit is not None else ""
    off = share * (channel.high - channel.low)
    for way, points in WAYS:
        for point in points:
            value: float | int = low + (high - low) * point / 100
            value = round(value) if tag.type == "int" else value
            signal = sent(channel, value)
            unit = "counts" if counted else own
            yield Reading(
                f"{wire.terminal} {way} {point} %",
                wire.terminal,
                wire.tag,
                way,
                f"the program has {wire.tag} at {rounded(value)} {unit}".rstrip(),
                Band(signal, signal - off, signal + off, channel.unit.symbol),
                Band(float(value), float(value), float(value), unit),
            )
