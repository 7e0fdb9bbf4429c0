"""The wiring list: every terminal of the controller, what it is for and what is at the other end."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rungproof.logic.checks.words import exactly
from rungproof.logic.engines.reference_plant import sent
from rungproof.logic.meaning.program import Channel, Condition, InputWire, Output, OutputWire, Plant, Program, Stage
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import PartReading, TerminalValue
from rungproof.logic.sheets.devices import closed_at_start, contact_at, kind_words, parts_of


@dataclass(frozen=True, slots=True)
class Terminal:
    """One terminal. `signal` says range and counts of an analog one; `supply` is its module's, in words; `on_stop`
    what an output gives while the controller is stopped, a dash for an input."""

    terminal: str
    tag: str
    way: str
    remark: str
    other_end: str
    signal: str
    supply: str
    lost: str
    on_stop: str


@dataclass(frozen=True, slots=True)
class CircuitLine:
    """One line of a hardwired circuit, as the file has it. `contacts`: how each of its contacts stands at the start."""

    circuit: str
    supply: str
    rung: str
    text: str
    contacts: tuple[str, ...]


def terminals_of(program: Program) -> tuple[Terminal, ...]:
    """All wires at the controller, by terminal: `X1:2` before `X1:10`."""
    plant, controller = program.plant, program.controller
    if plant is None or controller is None:
        return ()
    remarks = {name: tag.remark or "" for name, tag in controller.tags.items()}
    rows = [_input(plant, wire, remarks[wire.tag]) for wire in plant.inputs]
    rows += [_output(program, plant, wire, remarks[wire.tag]) for wire in plant.outputs]
    return tuple(sorted(rows, key=lambda row: natural(row.terminal)))


def natural(text: str) -> list[tuple[int, int, str]]:
    """A key that sorts numbers within a text as numbers."""
    return [(0, int(each), "") if each.isdecimal() else (1, 0, each) for each in re.split(r"(\d+)", text) if each]


def circuit_lines(program: Program) -> tuple[CircuitLine, ...]:
    """Every line of every hardwired circuit, in the order of the file."""
    plant = program.plant
    if plant is None:
        return ()
    texts = {source.path: source.text.splitlines() for source in program.sources}
    rows = []
    for circuit in plant.circuits:
        for rung in circuit.drawn:
            for line in (*rung.elements, *rung.outputs):
                text = texts[line.span.file][line.span.line - 1].partition("#")[0].strip()
                rows.append(
                    CircuitLine(
                        circuit.name, supply_words(plant, circuit.supply), rung.name, text, _standing(plant, line)
                    )
                )
    return tuple(rows)


def _standing(plant: Plant, line: Condition | Stage | Output) -> tuple[str, ...]:
    """`S0.1 break, closed`: what a tester finds over each contact before anybody has touched anything. A controller's
    output is off then, whatever its program does later."""
    if not isinstance(line, Condition):
        return ()
    found: dict[str, None] = {}
    terminals = {wire.tag: wire.terminal for wire in plant.outputs}
    for leaf in leaves(line.expression):
        if isinstance(leaf, TerminalValue) and leaf.tag in terminals:
            found[f"{terminals[leaf.tag]} output, off at rest"] = None
        at = contact_at(plant, leaf.key) if isinstance(leaf, PartReading) else None
        if at is not None and isinstance(leaf, PartReading):
            part, contact = at
            name = part.name if len(part.contacts) == 1 else leaf.key
            found[f"{name} {contact.kind}, {'closed' if closed_at_start(plant, leaf.key) else 'open'}"] = None
    return tuple(found)


def supply_words(plant: Plant, supply: str | None) -> str:
    """`P24, 24 V`; a dash where the files name no supply."""
    volts = volts_of(plant, supply)
    if supply is None:
        return "\N{EN DASH}"
    return supply if volts is None else f"{supply}, {exactly(volts)} V"


def volts_of(plant: Plant, supply: str | None) -> float | None:
    """The voltage of a supply, None where the files do not say."""
    part = parts_of(plant).get(supply or "")
    voltage = part.given.get("voltage") if part is not None else None
    return float(voltage) if isinstance(voltage, int | float) and not isinstance(voltage, bool) else None


def channel_words(channel: Channel | None) -> str:
    if channel is None:
        return "contact"
    signal = f"{exactly(channel.low)}..{exactly(channel.high)} {channel.unit.symbol}"
    return signal if channel.counts_low is None else f"{signal} as {channel.counts_low}..{channel.counts_high}"


def _input(plant: Plant, wire: InputWire, remark: str) -> Terminal:
    lost = "off" if wire.channel is None else f"0 {wire.channel.unit.symbol}"
    return Terminal(
        wire.terminal,
        wire.tag,
        "input",
        remark,
        _source_words(plant, wire.source),
        channel_words(wire.channel),
        supply_words(plant, wire.module_supply),
        f"reads {lost}",
        "\N{EN DASH}",
    )


def _output(program: Program, plant: Plant, wire: OutputWire, remark: str) -> Terminal:
    readers = _readers(program, plant, wire.tag)
    ends = [_target_words(plant, wire.target)] if wire.target else []
    ends += [f"circuit {circuit}, rung {rung}" for circuit, rung in readers]
    lost = "off" if wire.channel is None else f"0 {wire.channel.unit.symbol}"
    return Terminal(
        wire.terminal,
        wire.tag,
        "output",
        remark,
        "; ".join(ends) or "nothing in these files",
        "switched" if wire.channel is None else channel_words(wire.channel),
        supply_words(plant, wire.module_supply),
        f"gives {lost}",
        _on_stop(program, wire),
    )


def _on_stop(program: Program, wire: OutputWire) -> str:
    """What a terminal gives while the controller is stopped; an analog one as its signal, too."""
    assert program.controller is not None
    tag = program.controller.tags[wire.tag]
    if tag.on_stop is None:
        return "holds what it gave"
    if isinstance(tag.on_stop, bool):
        return "on" if tag.on_stop else "off"
    unit = tag.unit.symbol if tag.unit is not None else ""
    value = f"{exactly(tag.on_stop)} {unit}".rstrip()
    if wire.channel is None or wire.channel.counts_low is None:
        return value
    return f"{value}: {exactly(sent(wire.channel, tag.on_stop))} {wire.channel.unit.symbol}"


def _source_words(plant: Plant, source: str | None) -> str:
    found = contact_at(plant, source)
    if found is not None:
        part, contact = found
        many = len(part.contacts) > 1 or not contact.name.isdecimal()
        which = f"contact {contact.name}" if many else "contact"
        return f"{part.name}, {kind_words(part)}: {which}, {contact.kind}"
    if source is None:
        return "nothing: spare"
    name, _, what = source.partition(".")
    part = parts_of(plant)[name]
    return f"{name}, {kind_words(part)}: {what}"


def _target_words(plant: Plant, target: str) -> str:
    name, _, what = target.partition(".")
    return f"{name}, {kind_words(parts_of(plant)[name])}: {what}"


def _readers(program: Program, plant: Plant, tag: str) -> list[tuple[str, str]]:
    """Circuits and rungs that read an output's terminal, each once."""
    found = []
    for circuit in plant.circuits:
        for rung in circuit.drawn:
            read = [getattr(each, "expression", None) for each in rung.elements] + [o.when for o in rung.outputs]
            names = {leaf.tag for e in read if e is not None for leaf in leaves(e) if isinstance(leaf, TerminalValue)}
            if tag in names:
                found.append((circuit.name, rung.name))
    return found
