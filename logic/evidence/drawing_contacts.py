"""What the contacts of a hardwired circuit are: make contacts or break contacts, of which part.

A rung of a controller reads tags, and its `| |` says which state of the tag lets power pass.
A rung of a circuit is metal: `S0.1` conducts while the contact is closed, and whether it is
closed at rest depends on the part. Drawn without that, a break contact would look like a
make contact, and be wired so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Literal

from rungproof.grammar import CATALOGUE, Reporter, tree
from rungproof.logic.meaning.machine import Machine, read_machine
from rungproof.logic.meaning.machine_kinds import kinds_for
from rungproof.logic.meaning.machine_signals import sound_parts
from rungproof.plant.catalogue import KINDS

#: A node is a point that another rung of the circuit drives: a wire, no contact.
ContactKind = Literal["make", "break", "node"]
Contacts = Mapping[str, ContactKind]


def contacts_of(blocks: Iterable[tree.Block]) -> dict[str, ContactKind]:
    """The kind of each contact, by the names that circuits use, as far as it can be understood.

    Parts that cannot be read, and names that are borne twice, are left out. The output
    terminals of a controller count as make contacts: they are closed while the tag is on.
    """
    blocks = list(blocks)
    found: dict[str, ContactKind] = {}
    for plant in [block for block in blocks if isinstance(block, tree.Plant)]:
        found |= _of_parts(plant)
    lines = [line for block in blocks if isinstance(block, tree.Tags) for line in block.lines]
    terminals = [line.name for line in lines if line.role == "output" and line.type == "bool"]
    parts = [line.name for block in blocks if isinstance(block, tree.Plant) for line in block.parts]
    twice = {name for name, count in Counter(name.lower() for name in (*parts, *terminals)).items() if count > 1}
    found |= dict.fromkeys(terminals, "make")
    return {name: kind for name, kind in found.items() if name.partition(".")[0].lower() not in twice}


def _of_parts(plant: tree.Plant) -> dict[str, ContactKind]:
    machine = _machine(plant)
    found: dict[str, ContactKind] = {}
    for part in sound_parts(machine):
        found |= {f"{part.name}.{contact.name}": contact.kind for contact in part.contacts}
        if len(part.contacts) == 1:
            found[part.name] = part.contacts[0].kind
    return found


def _machine(plant: tree.Plant) -> Machine:
    """The parts of a plant; of the built-in kinds only where a user's own part fails as it is made."""
    silent = Reporter(CATALOGUE)
    kinds = kinds_for(plant, Path(plant.span.file).parent, silent)
    try:
        return read_machine(plant, kinds, silent)
    except Exception:
        # Whatever a user's class does, its rungs are drawn: that the kind is not known is said there.
        if plant.parts_from is None:
            raise
        return read_machine(plant, KINDS, silent)


def with_nodes(circuit: tree.Circuit, contacts: Contacts) -> dict[str, ContactKind]:
    """The same, with the points that the circuit's own rungs drive."""
    driven = [output.target.text for rung in circuit.rungs for output in rung.outputs]
    devices = {name.partition(".")[0] for name in contacts}
    nodes: dict[str, ContactKind] = {name: "node" for name in driven if "." not in name and name not in devices}
    return {**contacts, **nodes}
