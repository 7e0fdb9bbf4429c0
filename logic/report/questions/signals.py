"""Inputs, outputs and devices: of which does no requirement speak, and what stands beside a stop?"""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.meaning.program import Condition
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.typed import AnyOf, Expression, Inverse, PartReading, TagValue
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.spoken import STOPS, Spoken, names_of, parallels, read_in, rungs_of

#: Relays and the like: their contacts can weld, and a contact that is read back shows it.
_SWITCHING = frozenset({"relay", "contactor", "delay_relay", "latching_relay", "safety_module"})

#: What feeds others; its contact is no signal.
_FEEDING = frozenset({"fuse", "breaker", "common", "supply"})


def ask_of_signals(spoken: Spoken) -> Iterator[Question]:
    """All questions about wires and devices."""
    yield from _bypasses(spoken)
    yield from _resting_closed(spoken)
    yield from _program_alone(spoken)
    yield from _unread(spoken)
    yield from _inputs(spoken)
    yield from _outputs(spoken)
    yield from _devices(spoken)
    yield from _read_back(spoken)


def _bypasses(spoken: Spoken) -> Iterator[Question]:
    """A branch beside the contact of a stop: while it conducts, the stop is not asked."""
    for where, rung in rungs_of(spoken.program):
        for parallel in parallels(rung):
            yield from _bypass(spoken, where, parallel)


def _bypass(spoken: Spoken, where: str, parallel: AnyOf) -> Iterator[Question]:
    stops = {}
    for operand in parallel.operands:
        device = spoken.source_of.get(operand.tag) if isinstance(operand, TagValue) else None
        device = operand.key.partition(".")[0] if isinstance(operand, PartReading) else device
        if device is not None and _stops(spoken, device):
            stops[operand] = device
    if not stops or len(stops) == len(parallel.operands):
        return
    beside = sorted(names_of(each for each in parallel.operands if each not in stops))
    devices = sorted(set(stops.values()))
    asked = f"When may {', '.join(beside)} stand in for {', '.join(devices)}, who decides it, and for how long at most?"
    why = (
        f"In {where} a branch stands beside its contact: while that conducts, {', '.join(devices)} is not asked there."
    )
    yield Question((*devices, *beside), asked, why)


def _stops(spoken: Spoken, device: str) -> bool:
    """Whether people or limits stop with a device; a float or a probe does where its contact opens for it."""
    kind = spoken.kinds.get(device)
    if kind not in ("float_switch", "level_probe") or spoken.plant is None:
        return kind in STOPS
    contacts = spoken.plant.assembly.contacts
    return any(each.kind == "break" for key, each in contacts.items() if key.partition(".")[0] == device)


def _resting_closed(spoken: Spoken) -> Iterator[Question]:
    """A button that rests closed in a parallel: what it is there to ask for is there unasked."""
    for where, rung in rungs_of(spoken.program):
        for parallel in parallels(rung):
            closed = dict.fromkeys(name for each in parallel.operands for name in _rests_closed(spoken, each))
            for name in closed:
                yield Question(
                    (name,),
                    f"What is {name} to do in {where}, if nobody presses it?",
                    "It is a push-button that rests closed, and stands in a parallel: that branch conducts while "
                    "nobody touches anything.",
                )


def _rests_closed(spoken: Spoken, operand: Expression) -> Iterator[str]:
    """The push-button whose break contact this is, read plain, in a circuit or through an input."""
    if spoken.plant is None:
        return
    sources = {wire.tag: wire.source for wire in spoken.plant.inputs}
    key = operand.key if isinstance(operand, PartReading) else None
    key = sources.get(operand.tag) if isinstance(operand, TagValue) else key
    contact = spoken.plant.assembly.contacts.get(key or "")
    name = (key or "").partition(".")[0]
    if contact is not None and contact.kind == "break" and spoken.kinds.get(name) == "push_button":
        yield name


def _program_alone(spoken: Spoken) -> Iterator[Question]:
    """A stop that no circuit of anything moving reads: where the program fails, it stops nothing."""
    if spoken.plant is None or spoken.reach is None:
        return
    wired = {key.partition(".")[0] for drive in spoken.reach.moving() for key in spoken.reach.cone(drive).contacts}
    heard = set(spoken.source_of.values())
    alone = [name for name, kind in spoken.kinds.items() if kind in STOPS and name in heard and name not in wired]
    if alone:
        kinds = {spoken.kinds[name] for name in alone}
        alike = sorted(name for name in wired if spoken.kinds.get(name) in kinds)
        beside = f" Of their kind, {', '.join(alike)} is in one." if alike else ""
        told = ", ".join(f"{name} ({spoken.kinds[name].replace('_', ' ')})" for name in alone)
        yield Question(
            tuple(alone),
            f"What do these stop, if the program or its output fails: {told}?",
            f"No circuit of anything that moves reads a contact of them: the program alone hears them.{beside}",
        )


def _unread(spoken: Spoken) -> Iterator[Question]:
    """Devices with contacts that neither a circuit nor an input reads."""
    if spoken.plant is None:
        return
    read = {name for _, rung in rungs_of(spoken.program) for name in read_in(rung)} | set(spoken.source_of.values())
    for part in spoken.plant.assembly.parts:
        if part.contacts and part.name not in read and part.kind not in _SWITCHING | _FEEDING:
            yield Question(
                (part.name,),
                f"What is {part.name} ({part.kind.replace('_', ' ')}) there for?",
                "No circuit and no input reads a contact of it.",
            )


def _inputs(spoken: Spoken) -> Iterator[Question]:
    controller = spoken.controller
    for tag in controller.tags.values() if controller is not None else ():
        if tag.role == "input" and not spoken.of_input(tag.name):
            device = spoken.source_of.get(tag.name)
            told = f" (from {device})" if device is not None else ""
            yield Question(
                (tag.name,),
                f"What must, or must not, follow from {tag.name}{told}? What if it comes, and what if it is wrong?",
                "No requirement speaks of it" + (f", nor of {device}." if device is not None else "."),
            )


def _outputs(spoken: Spoken) -> Iterator[Question]:
    controller = spoken.controller
    for tag in controller.tags.values() if controller is not None else ():
        if tag.role == "output" and not spoken.of_output(tag.name):
            yield Question(
                (tag.name,),
                f"What may {tag.name} do, and when?",
                "No requirement speaks of it, nor of anything that it reaches.",
            )
        if (
            tag.role == "output"
            and tag.name in spoken.moving()
            and (tag.on_stop is None or tag.on_stop not in (False, 0, tag.low))
        ):
            stands = "stands as it was" if tag.on_stop is None else "is given a value that can move something"
            yield Question(
                (tag.name,),
                f"Is the machine safe while the controller is stopped and {tag.name} {stands}?",
                "Its line says so: `on stop`.",
            )


def _devices(spoken: Spoken) -> Iterator[Question]:
    """What people work or what limits the machine, read by a circuit alone, and no requirement speaks of it."""
    if spoken.plant is None:
        return
    wired = set(spoken.source_of.values())
    for part in spoken.plant.assembly.parts:
        worked = bool(part.contacts) and part.kind not in _SWITCHING | _FEEDING
        if worked and part.name not in wired and not spoken.of_device(part.name):
            yield Question(
                (part.name,),
                f"What must {part.name} ({part.kind.replace('_', ' ')}) do, and what must it never do?",
                "A circuit may read it; no requirement speaks of it.",
            )


def _read_back(spoken: Spoken) -> Iterator[Question]:
    """Relays in the way of something that moves, and no input or other rung hears whether they dropped out."""
    if spoken.plant is None or spoken.reach is None:
        return
    in_the_way = {key.partition(".")[0] for drive in spoken.reach.moving() for key in spoken.reach.cone(drive).contacts}
    heard = set(spoken.source_of.values())
    for _, rung in rungs_of(spoken.program):
        for element in rung.elements:
            expression = getattr(element, "expression", None)
            if isinstance(expression, Inverse):
                heard |= names_of([expression])
    for name in sorted(in_the_way - heard):
        if spoken.kinds.get(name) in _SWITCHING and not _break_in_reset(spoken, name):
            yield Question(
                (name,),
                f"Who notices that a contact of {name} has welded, and what does the machine do then?",
                "It switches something that moves, and no contact of it comes back to an input.",
            )


def _break_in_reset(spoken: Spoken, name: str) -> bool:
    """Whether a break contact of a relay stands in a circuit: a start that waits for it to have dropped out."""
    assert spoken.plant is not None
    part = next(each for each in spoken.plant.assembly.parts if each.name == name)
    breaks = {f"{name}.{contact.name}" for contact in part.contacts if contact.kind == "break"}
    lines = [element for _, rung in rungs_of(spoken.program) for element in rung.elements]
    read = readings_of(line.expression for line in lines if isinstance(line, Condition)).plant
    return bool(breaks & read)
