"""What of a plant can be read, driven and set, by the names that files use."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.typed import Expression, PartReading
from rungproof.logic.meaning.units import parse_unit
from rungproof.plant.part import Input, Output, Part

_NOWHERE = Span("", 0, 0, 0)


def sound_parts(machine: Machine) -> Iterator[Part]:
    return (part for name, part in machine.parts.items() if name not in machine.broken)


def contact_entries(machine: Machine) -> dict[str, Expression | None]:
    """`K1.2`, and the bare name of a part that has one contact only."""
    entries: dict[str, Expression | None] = {}
    for part in sound_parts(machine):
        for contact in part.contacts:
            entries[f"{part.name}.{contact.name}"] = _contact(part, contact.name)
        if len(part.contacts) == 1:
            entries[part.name] = _contact(part, part.contacts[0].name)
    return entries


def truth_entries(machine: Machine) -> dict[str, Expression | None]:
    """The physical truth: outputs, what people do, what the world does."""
    entries: dict[str, Expression | None] = {}
    for part in sound_parts(machine):
        shown: list[Input | Output] = [*part.outputs]
        shown += [each for each in part.inputs if each.source in ("operator", "disturbance")]
        for each in shown:
            entries[f"{part.name}.{each.name}"] = _reading(part, each)
    return entries


def driven_inputs(part: Part) -> dict[str, Input]:
    """What wiring or a circuit may drive, by flat key."""
    return {f"{part.name}.{each.name}": each for each in part.inputs if each.source == "driven"}


def signals_of(part: Part) -> dict[str, Output]:
    """The outputs that a wire can carry to a channel: those in V or mA."""
    return {f"{part.name}.{each.name}": each for each in part.outputs if each.unit in ("V", "mA")}


def _contact(part: Part, contact: str) -> Expression:
    return PartReading(type="bool", span=_NOWHERE, key=f"{part.name}.{contact}")


def _reading(part: Part, each: Input | Output) -> Expression:
    unit = parse_unit(each.unit) if each.unit else None
    low, high = (0, 1) if each.type == "bool" else (each.low, each.high)
    return PartReading(type=each.type, unit=unit, low=low, high=high, span=_NOWHERE, key=f"{part.name}.{each.name}")
