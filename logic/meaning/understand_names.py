"""The names of a whole project: what requirements can read, and how a name reads in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rungproof.grammar.tree import Block, Rung
from rungproof.logic.meaning.circuits_reading import names_in, silence_broken
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import NamedScope
from rungproof.logic.meaning.machine_signals import contact_entries, driven_inputs, sound_parts, truth_entries
from rungproof.logic.meaning.restate import Manner
from rungproof.logic.meaning.scope import Scope
from rungproof.logic.meaning.typed import Expression, PowerUp, Scanning
from rungproof.plant.part import Part


class ProjectNames:
    """Tags, stages, contacts and physical truths in one; `controller` maps the program's names."""

    def __init__(self, controller: Mapping[str, Expression | None], machine: Machine | None) -> None:
        self.controller = controller
        self.machine = machine
        self.contacts = contact_entries(machine) if machine is not None else {}
        self.truths = truth_entries(machine) if machine is not None else {}
        self.entries = {**self.truths, **self.contacts, **controller}
        self.elsewhere: dict[str, str] = {}
        shown: dict[str, list[str]] = {}
        for key in self.truths:
            shown.setdefault(key.partition(".")[0], []).append(key)
        if machine is not None:
            for part in sound_parts(machine):
                self._note(part, shown.get(part.name, []))

    def _note(self, part: Part, truths: list[str]) -> None:
        """What of a part cannot be read as it stands, and why."""
        contacts = [f"{part.name}.{c.name}" for c in part.contacts]
        shown = contacts + truths
        choice = ", ".join(f"`{key}`" for key in shown) or "nothing"
        for key in driven_inputs(part):
            if key not in self.entries:
                self.elsewhere[key] = f"it is what drives the part, not what the part does; there is {choice}"
        if part.name in self.controller and len(contacts) == 1:
            del self.entries[part.name]
            self.elsewhere[part.name] = f"a tag and a part bear this name; write `{contacts[0]}` for the contact"
        elif part.name not in self.entries:
            self.elsewhere[part.name] = f"it is a part; say what of it: {choice}"

    def scope(self, blocks: Iterable[Block]) -> Scope:
        """Everything that requirements and expectations can read; broken parts' names stay silent."""
        if self.machine is not None and self.machine.broken:
            silence_broken(self.entries, self.machine, tuple(blocks))
        return NamedScope(self.entries, self.elsewhere)

    def manner(self, name: str) -> Manner:
        """How a name reads in a restatement."""
        if name in self.controller:
            leaf = self.controller[name]
            return "moment" if isinstance(leaf, PowerUp) else "mode" if isinstance(leaf, Scanning) else "tag"
        if name in self.contacts:
            return "contact"
        truth = self.truths.get(name)
        if truth is None:
            return "tag"
        return "truth" if truth.type == "bool" else "quantity"


def hidden_from_program(machine: Machine | None, blocks: Iterable[Block]) -> dict[str, str]:
    """The plant's names, with the reason why a rung of the program cannot read them."""
    if machine is None:
        return {}
    reason = "the program knows the plant through its inputs only"
    names: dict[str, str] = {}
    for part in sound_parts(machine):
        names[part.name] = reason
        names |= dict.fromkeys(driven_inputs(part), reason)
    names |= dict.fromkeys([*truth_entries(machine), *contact_entries(machine)], reason)
    rungs = tuple(block for block in blocks if isinstance(block, Rung))
    used = (name.text for name in names_in(rungs))
    return names | {name: reason for name in used if "." in name and name.partition(".")[0] in machine.lines}
