"""What is at the other end of a wire, in the words of somebody who stands before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rungproof.logic.checks.words import exactly
from rungproof.logic.meaning.program import Plant
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Contact, Part


@dataclass(frozen=True, slots=True)
class Positions:
    """What makes a contact's condition true, and what makes it false again."""

    operated: str
    rest: str


def kind_words(part: Part) -> str:
    """`push button` for `push_button`."""
    return part.kind.replace("_", " ")


def parts_of(plant: Plant) -> dict[str, Part]:
    return {part.name: part for part in plant.assembly.parts}


def contact_at(plant: Plant, key: str | None) -> tuple[Part, Contact] | None:
    """The contact with this look key, and its part; None where the key is none of a contact."""
    contact = plant.assembly.contacts.get(key or "")
    return None if contact is None or key is None else (parts_of(plant)[key.partition(".")[0]], contact)


def closed_at_start(plant: Plant, key: str) -> bool:
    """Whether a contact is closed while nobody has touched anything yet."""
    return bool(plant.assembly.look(PLAIN, plant.assembly.start(), {})[key])


def positions_of(part: Part, contact: Contact) -> Positions:
    """How a person brings a contact into its operated position and back. A kind of one's own gets plain words."""
    say = _POSITIONS.get(part.kind)
    return say(part, contact) if say is not None else Positions("operated", "at rest")


def closes_when(part: Part, contact: Contact) -> tuple[str, str]:
    """In which position a contact is closed, and in which it is open."""
    words = positions_of(part, contact)
    return (words.operated, words.rest) if contact.kind == "make" else (words.rest, words.operated)


def _given(part: Part, slot: str, default: float = 0.0) -> float:
    value = part.given.get(slot, default)
    return float(value) if isinstance(value, int | float) else default


def _float(part: Part, contact: Contact) -> Positions:
    opens = "opens_on_rise" in part.given
    rise = _given(part, "opens_on_rise" if opens else "closes_on_rise")
    fall = _given(part, "closes_on_fall" if opens else "opens_on_fall", rise)
    return Positions(
        f"float up: level rising, at {exactly(rise)} cm", f"float down: level falling, at {exactly(fall)} cm"
    )


def _probe(part: Part, contact: Contact) -> Positions:
    height = _given(part, "height")
    return Positions(f"wet: level at {exactly(height)} cm or above", f"dry: level below {exactly(height)} cm")


def _airflow(part: Part, contact: Contact) -> Positions:
    closes = _given(part, "closes_at", 50.0)
    return Positions(
        f"air flow rising, at {exactly(closes)} %",
        f"air flow falling, at {exactly(_given(part, 'opens_at', closes))} %",
    )


def _flow(part: Part, contact: Contact) -> Positions:
    lifts = _given(part, "lifts")
    falls = _given(part, "falls", lifts)
    return Positions(f"flow rising, at {exactly(lifts)} L/min", f"flow falling, at {exactly(falls)} L/min")


def _door(part: Part, contact: Contact) -> Positions:
    return Positions("edge pressed", "edge free") if contact.name == "edge" else _end(part, contact)


def _hands(part: Part, contact: Contact) -> Positions:
    if contact.name == "both":
        return Positions("both buttons pressed together", "not both pressed together")
    which = contact.name.partition("_")[0]
    return Positions(f"{which} button pressed", f"{which} button let go")


def _end(part: Part, contact: Contact) -> Positions:
    return Positions(f"fully {contact.name}", f"not fully {contact.name}")


def _ram(part: Part, contact: Contact) -> Positions:
    return Positions(f"ram at the {contact.name}", f"ram away from the {contact.name}")


def _turned(part: Part, contact: Contact) -> Positions:
    return Positions(f"turned to {contact.name}", f"turned to anything but {contact.name}")


def _always(operated: str, rest: str) -> Callable[[Part, Contact], Positions]:
    return lambda part, contact: Positions(operated, rest)


_POSITIONS: dict[str, Callable[[Part, Contact], Positions]] = {
    "push_button": _always("pressed", "let go"),
    "emergency_stop": _always("pushed in", "let out"),
    "guard_switch": _always("guard shut", "guard open"),
    "relay": _always("pulled in", "dropped out"),
    "contactor": _always("pulled in", "dropped out"),
    "delay_relay": _always("operated: its time has run out", "released"),
    "latching_relay": _always("set", "reset"),
    "overload_relay": _always("tripped", "healthy"),
    "safety_module": _always("module on", "module off"),
    "key_switch": _turned,
    "float_switch": _float,
    "flow_switch": _flow,
    "door": _door,
    "two_hand_station": _hands,
    "level_probe": _probe,
    "fan": _airflow,
    "valve": _end,
    "press": _ram,
    "selector": _turned,
}
