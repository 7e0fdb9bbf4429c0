"""Everything that can come alone: a hand, an instrument, a wire, a supply."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rungproof.logic.meaning.program import Knob, Plant, Program, Story
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import PartReading, Scalar
from rungproof.logic.sheets.devices import closes_when, kind_words, parts_of


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that changes. `do` says how a person brings it about, `undo` how it goes again.

    `key` becomes `value`, and `before` when it goes. `forced`: a device is moved by hand, a wire
    is taken off or a link is put in, which has to be put right afterwards. `at_bench`: a person can
    bring it about; what an instrument gets wrong inside is tried in the model alone.
    """

    name: str
    key: str
    value: Scalar
    before: Scalar
    do: str
    undo: str
    forced: bool = False
    at_bench: bool = True


def causes_of(program: Program, now: Mapping[str, Scalar], story: Story) -> tuple[Cause, ...]:
    """The causes that can come in a state. `now` holds what is visible, `story` led there."""
    set_last = {event.key: event.value for event in sorted(story.events, key=lambda event: event.at_ms)}

    def standing(knob: Knob) -> Scalar:
        return set_last.get(knob.key, knob.start)

    found = [cause for knob in program.knobs.values() for cause in _by_hand(program, knob, standing(knob))]
    if program.plant is not None:
        found += _contacts(program, program.plant, now)
        found += _signals(program, program.plant)
    found += [cause for knob in program.knobs.values() for cause in _power(knob, standing(knob))]
    return tuple(found)


def _by_hand(program: Program, knob: Knob, standing: Scalar) -> Iterator[Cause]:
    if knob.kind == "tag" and knob.type == "bool":
        on = not standing
        do, undo = (f"{knob.key} {'on' if each else 'off'}" for each in (on, not on))
        yield Cause(f"{knob.key} {'on' if on else 'off'}", knob.key, on, standing, do, undo)
    if knob.kind != "operator":
        return
    name, _, what = knob.key.partition(".")
    if knob.type == "bool":
        do, undo = _hand_words(name, what, bool(standing), _kind(program, name))
        yield Cause(do[0].upper() + do[1:], knob.key, not standing, standing, do, undo)
        return
    if knob.type == "int":
        for position in range(int(knob.low), int(knob.high) + 1):
            if position != standing:
                do = f"turn {name} to {position}"
                yield Cause(
                    f"Turn {name} to {position}", knob.key, position, standing, do, f"turn {name} to {standing}"
                )


def _kind(program: Program, name: str) -> str:
    return parts_of(program.plant)[name].kind if program.plant is not None else ""


def _hand_words(name: str, what: str, standing: bool, kind: str) -> tuple[str, str]:
    """What to do, and how to undo it."""
    if what == "closed":
        words = (f"shut the guard {name}", f"open the guard {name}")
    elif what == "pressed" and kind == "emergency_stop":
        words = (f"push the emergency stop {name} in", f"let the emergency stop {name} out")
    elif what == "key_in":
        words = (f"put the key into {name}", f"take the key out of {name}")
    elif what in ("left", "right"):
        words = (f"press the {what} button of {name} and hold it", f"let the {what} button of {name} go")
    elif what == "reset":
        words = (f"press the reset of {name} and hold it", f"let the reset of {name} go")
    elif what == "pressed":
        words = (f"press {name} and hold it", f"let {name} go")
    else:
        words = (f"{name}: {what} on", f"{name}: {what} off")
    return (words[1], words[0]) if standing else words


def _contacts(program: Program, plant: Plant, now: Mapping[str, Scalar]) -> Iterator[Cause]:
    """Contacts of what no hand works: a float, a flow switch, an end switch, a relay that the program reads."""
    parts = parts_of(plant)
    wired = {wire.source for wire in plant.inputs}
    read = {leaf.key for leaf in _circuit_leaves(plant) if isinstance(leaf, PartReading)}
    for key, contact in plant.assembly.contacts.items():
        part = parts[key.partition(".")[0]]
        if part.inputs and all(each.source == "operator" for each in part.inputs):
            continue
        driven = any(each.source == "driven" for each in part.inputs)
        if key not in wired and (key not in read or driven):
            continue
        opens = bool(now[key])
        closed, opened = closes_when(part, contact)
        fault = "stays_open" if opens else "welded"
        label = part.name if len(part.contacts) == 1 else key
        words = opened if opens else closed
        how = "open it by hand, or take its wire off" if opens else "work it by hand, or put a link across it"
        yield Cause(
            f"{label} {'opens' if opens else 'closes'}",
            f"{key}!{fault}",
            True,
            False,
            f"let the contact of {label} ({kind_words(part)}) {'open' if opens else 'close'}, as when {words}: {how}",
            f"put {label} back as it was",
            forced=True,
        )


def _circuit_leaves(plant: Plant) -> Iterator[object]:
    for circuit in plant.circuits:
        for rung in circuit.rungs:
            for element in rung.elements:
                expression = getattr(element, "expression", None)
                if expression is not None:
                    yield from leaves(expression)


def _signals(program: Program, plant: Plant) -> Iterator[Cause]:
    """What can become of an analog signal: its wire comes off, and the faults that its instrument knows."""
    for wire in plant.inputs:
        if wire.channel is None or wire.source is None:
            continue
        broken = f"{wire.terminal}!wire_broken"
        yield Cause(
            f"{wire.terminal} loses its signal",
            broken,
            True,
            False,
            f"take the wire off {wire.terminal} ({wire.tag})",
            f"put the wire back on {wire.terminal}",
            forced=True,
        )
        part = parts_of(plant)[wire.source.partition(".")[0]]
        for fault in part.faults:
            how = _AT_BENCH.get(fault.name)
            do = how.format(part.name) if how is not None else f"at {part.name}: {fault.words}"
            yield Cause(
                f"{part.name}: {fault.words}",
                f"{part.name}!{fault.name}",
                True,
                False,
                do,
                f"put {part.name} right",
                forced=True,
                at_bench=how is not None,
            )


#: How a person brings about what an instrument may do wrong, with a target or a signal source in its place.
_AT_BENCH = {
    "echo_lost": "turn {} aside, so that no echo comes back to it",
    "false_echo": "hold a plate close before {}",
    "fails_low": "put a signal source in place of {}, at the least that it can send",
    "fails_high": "put a signal source in place of {}, at the most that it can send",
    "reads_zero": "put a signal source in place of {}, at its reading of nothing",
    "frozen": "put a signal source in place of {}, and leave it at the last reading",
}


def _power(knob: Knob, standing: Scalar) -> Iterator[Cause]:
    if knob.kind not in ("power", "stop") or standing:
        return
    owner, _, what = knob.key.partition("!")
    if what == "lost":
        yield Cause(
            f"{owner} is lost", knob.key, True, False, f"switch the supply {owner} off", f"switch {owner} on", True
        )
    elif what == "cut":
        do, undo = "switch the controller's own supply off", "switch the controller's supply on"
        yield Cause("The controller loses power", knob.key, True, False, do, undo, True)
    elif what == "stopped":
        yield Cause("The controller is stopped", knob.key, True, False, "stop the program", "let the program run", True)
