"""The names that a circuit can read, and why it cannot read the others."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterator, Mapping

from rungproof.grammar import tree
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import NamedScope
from rungproof.logic.meaning.machine_signals import contact_entries, sound_parts, truth_entries
from rungproof.logic.meaning.program import Tag
from rungproof.logic.meaning.scope import Scope
from rungproof.logic.meaning.typed import Expression, NodeValue, TerminalValue

_NOWHERE = Span("", 0, 0, 0)


def names_in(node: object) -> Iterator[tree.Name]:
    """Every name that a node of the tree reads, in the order written; targets of outputs apart."""
    if isinstance(node, tree.Name):
        yield node
    elif isinstance(node, tuple):
        for each in node:
            yield from names_in(each)
    elif dataclasses.is_dataclass(node):
        for field in dataclasses.fields(node):
            if field.name != "target":
                yield from names_in(getattr(node, field.name))


def silence_broken(entries: dict[str, Expression | None], machine: Machine, node: object) -> None:
    """Names of parts whose own line is at fault: their uses stay silent."""
    for name in names_in(node):
        if name.text.partition(".")[0] in machine.broken:
            entries[name.text] = None


def circuit_scope(
    circuit: tree.Circuit,
    machine: Machine,
    tags: Mapping[str, Tag | None],
    nodes: Collection[str],
    elsewhere_nodes: Mapping[str, str],
) -> Scope:
    """Contacts, output terminals and this circuit's nodes; the rest of the project with a reason."""
    entries = contact_entries(machine)
    elsewhere = {
        node: f'it is a node of circuit "{name}"; join circuits through a relay\'s contact'
        for node, name in elsewhere_nodes.items()
    }
    elsewhere |= {
        key: "a circuit sees contacts only, not the physical truth; use the contact of a part that looks at it"
        for key in truth_entries(machine)
        if key not in entries
    }
    for part in sound_parts(machine):
        if len(part.contacts) != 1:
            elsewhere[part.name] = _which_contact(part.name, [c.name for c in part.contacts])
    for name, tag in tags.items():
        if name in entries and (tag is None or tag.role == "output"):
            del entries[name]
            elsewhere[name] = "a tag and a part bear this name; give one of them another"
        elif name in entries:
            continue
        elif tag is None:
            entries[name] = None
        elif tag.role == "output" and tag.type == "bool":
            entries[name] = TerminalValue(type="bool", span=_NOWHERE, tag=name)
        else:
            elsewhere[name] = _why_no_terminal(tag)
    entries |= {node: NodeValue(type="bool", span=_NOWHERE, node=node) for node in nodes}
    silence_broken(entries, machine, circuit)
    return NamedScope(entries, elsewhere, code="unknown-contact")


def _which_contact(part: str, contacts: list[str]) -> str:
    if not contacts:
        return "it has no contact"
    return f"it has several contacts; say which: {', '.join(f'`{part}.{c}`' for c in contacts)}"


def _why_no_terminal(tag: Tag) -> str:
    if tag.role == "output":
        return "its terminal gives a number, and a circuit knows contacts only"
    return (
        f"it is {'an' if tag.role == 'input' else 'a'} {tag.role} tag inside the program; "
        "wires reach the program's bool outputs only"
    )
