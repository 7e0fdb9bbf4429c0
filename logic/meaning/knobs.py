"""The environment: everything that a story, the search or a table of faults can set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from rungproof.logic.meaning.machine_supplies import can_be_cut
from rungproof.logic.meaning.program import Knob, Tag
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.units import parse_unit
from rungproof.plant.part import CONTACT_FAULTS, Fault, Input, Part

Kind = Literal["tag", "operator", "disturbance", "fault", "power", "stop", "parameter", "free output"]

#: So many times longer a scan takes while it overruns. A declared size, no source.
OVERRUN = 5

#: What can befall a program beside losing its power and being stopped. All of it lasts while the fault stands.
CONTROLLER_FAULTS = (
    Fault("hung", "the program hangs: no scan ends, and the outputs stand"),
    Fault("overrun", "every scan takes five times as long"),
    Fault("memory_lost", "what is retained is lost with the power"),
)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What there is to set. `parts` is None without a plant; `wires` are the faults of each terminal
    that a wire leads to or from."""

    tags: Mapping[str, Tag]
    parts: tuple[Part, ...] | None
    wires: Mapping[str, tuple[Fault, ...]]
    has_controller: bool


def knobs_of(around: Surroundings) -> dict[str, Knob]:
    """All knobs by flat key, in a fixed order: people, world, power, parameters, faults, outputs."""
    parts = around.parts or ()
    found: list[Knob] = []
    if around.parts is None:
        found += _tags(around, "input", "tag")
    for part in parts:
        found += _people_and_world(part)
    found += [_switch(f"{p.name}!lost", "power", "the supply is lost") for p in parts if can_be_cut(p)]
    if around.has_controller:
        found += [
            _switch("controller!cut", "power", "the controller has no power"),
            _switch("controller!stopped", "stop", "the controller is stopped"),
        ]
    found += _tags(around, "parameter", "parameter")
    for part in parts:
        found += _faults(part)
    for terminal, faults in around.wires.items():
        found += [_switch(f"{terminal}!{fault.name}", "fault", fault.words) for fault in faults]
    if around.has_controller:
        found += [_switch(f"controller!{fault.name}", "fault", fault.words) for fault in CONTROLLER_FAULTS]
    found += _tags(around, "output", "free output")
    return {knob.key: knob for knob in found}


def _tags(around: Surroundings, role: str, kind: Kind) -> Iterator[Knob]:
    for tag in around.tags.values():
        if tag.role == role:
            yield Knob(tag.name, kind, tag.type, tag.unit, tag.low, tag.high, tag.start, tag.remark or "")


def _people_and_world(part: Part) -> Iterator[Knob]:
    for each in part.inputs:
        if each.source == "operator":
            yield _of_input(f"{part.name}.{each.name}", each, "operator")
        elif each.source == "disturbance":
            yield _of_input(f"{part.name}.{each.name}", each, "disturbance")


def _of_input(key: str, each: Input, kind: Kind) -> Knob:
    start: Scalar = bool(each.start) if each.type == "bool" else each.start
    unit = parse_unit(each.unit) if each.unit else None
    low, high = (0, 1) if each.type == "bool" else (each.low, each.high)
    return Knob(key, kind, each.type, unit, low, high, start)


def _faults(part: Part) -> Iterable[Knob]:
    """The part's own faults, then those of its contacts. The loss of a supply stands under power."""
    own = [f for f in part.faults if not (f.name == "lost" and can_be_cut(part))]
    yield from (_switch(f"{part.name}!{f.name}", "fault", f.words) for f in own)
    for contact in part.contacts:
        yield from (_switch(f"{part.name}.{contact.name}!{f.name}", "fault", f.words) for f in CONTACT_FAULTS)


def _switch(key: str, kind: Kind, words: str) -> Knob:
    return Knob(key, kind, "bool", None, 0, 1, False, words)
