"""Layers of protection: a hazard that the program guards alone, and what two layers share.

One layer is the program with its inputs and outputs, the other the hardwired circuits.
Independence of layers: IEC 61511-1 clause 9 (from memory). These checks are simple: they
count devices, wires and supplies, and judge no device's fitness.
"""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.contacts_twice import find_contacts_twice
from rungproof.logic.meaning.findings.reach import Cone, Reach
from rungproof.logic.meaning.program import Condition, Hazard, Plant, Program
from rungproof.logic.meaning.requirements_reading import readings_of


def find_in_layers(program: Program, reach: Reach, reporter: Reporter) -> None:
    """Every hazard whose safe state names something that is driven; then every circuit."""
    plant = program.plant
    if plant is None or program.controller is None:
        return
    for hazard in program.hazards:
        _find_undriven(hazard, reach, reporter)
        _find_alone(hazard, reach, reporter)
    _find_shared_contacts(plant, reporter)
    find_contacts_twice(plant, reporter)
    _find_shared_devices(plant, reporter)


def _find_alone(hazard: Hazard, reach: Reach, reporter: Reporter) -> None:
    if hazard.safe_state is None:
        return
    named = sorted({key.partition(".")[0] for key in readings_of([hazard.safe_state]).plant})
    for part in named:
        cones = [reach.cone(key) for key in reach.coils(part)]
        guarded = [cone for cone in cones if any(True for _ in _devices(cone, reach))]
        commanded = {tag for cone in cones for tag in cone.terminals if reach.switches(tag)}
        if commanded and not guarded:
            tags = " and ".join(f"`{tag}`" for tag in sorted(commanded))
            reporter.report("hazard-program-alone", hazard.span, name=hazard.name, part=part, tags=tags)


def _find_undriven(hazard: Hazard, reach: Reach, reporter: Reporter) -> None:
    """A safe state that nothing can bring about: no layer against the hazard can then be looked at."""
    if hazard.safe_state is None:
        return
    readings = readings_of([hazard.safe_state])
    parts = sorted({key.partition(".")[0] for key in readings.plant})
    span = hazard.safe_state.span
    if readings.tags:
        tags = ", ".join(f"`{tag}`" for tag in sorted(readings.tags))
        reporter.report("safe-state-of-tags", span, name=hazard.name, tags=tags)
    elif not reach.drives(parts):
        names = ", ".join(f"`{part}`" for part in parts) or "it"
        reporter.report("safe-state-undriven", span, name=hazard.name, parts=names)


def _devices(cone: Cone, reach: Reach) -> Iterator[str]:
    """Contacts of sensors and buttons: of parts that nothing drives."""
    return (key for key in cone.contacts if not reach.coils(key.partition(".")[0]))


def _contact_places(plant: Plant) -> dict[str, tuple[str, Span]]:
    places: dict[str, tuple[str, Span]] = {}
    for circuit in plant.circuits:
        for rung in circuit.rungs:
            for element in rung.elements:
                if isinstance(element, Condition):
                    for key in readings_of([element.expression]).plant:
                        places.setdefault(key, (circuit.name, element.span))
    return places


def _find_shared_contacts(plant: Plant, reporter: Reporter) -> None:
    """One contact cannot be in a circuit and at an input: two circuits would be joined through it."""
    places = _contact_places(plant)
    taken: dict[str, Span] = {}
    for wire in plant.inputs:
        if wire.source is None or wire.channel is not None:
            continue
        if wire.source in places:
            name, span = places[wire.source]
            related = ((span, f'circuit "{name}"'),)
            reporter.report("contact-shared", wire.span, contact=wire.source, related=related)
        elif wire.source in taken:
            related = ((taken[wire.source], "the other wire"),)
            reporter.report("contact-shared", wire.span, contact=wire.source, related=related)
        taken.setdefault(wire.source, wire.span)


def _find_shared_devices(plant: Plant, reporter: Reporter) -> None:
    """One note for each circuit: which devices and supplies the program leans on too."""
    driven = {key.partition(".")[0] for key in plant.assembly.driven}
    by_input = {w.source.partition(".")[0] for w in plant.inputs if w.source is not None}
    program_supplies = {plant.controller_supply}
    program_supplies |= {w.module_supply for w in plant.inputs} | {w.module_supply for w in plant.outputs}
    for circuit in plant.circuits:
        in_circuit = {
            key.partition(".")[0] for key, (name, _) in _contact_places(plant).items() if name == circuit.name
        }
        shared = sorted((in_circuit & by_input) - driven)
        if not shared:
            continue
        if circuit.supply in program_supplies:
            shared.append(f"the common supply {circuit.supply} (its loss stops both)")
        reporter.report("layers-share", circuit.span, name=circuit.name, shared=", ".join(shared))
