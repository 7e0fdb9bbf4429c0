"""What circuits and wiring drive, each thing once."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.machine_signals import driven_inputs, sound_parts


@dataclass(slots=True)
class Drives:
    """Who drives what: `taken` maps a drive key, or a circuit's node, to its first driver."""

    machine: Machine
    tags: Collection[str]
    taken: dict[str, Span] = field(default_factory=dict)
    _nodes: dict[int, set[str]] = field(default_factory=dict)

    def nodes_of(self, circuit: tree.Circuit) -> set[str]:
        """Targets that are neither part nor tag: points of the circuit itself."""
        if id(circuit) not in self._nodes:
            self._nodes[id(circuit)] = self._nodes_in(circuit)
        return self._nodes[id(circuit)]

    def _nodes_in(self, circuit: tree.Circuit) -> set[str]:
        targets = {output.target.text for rung in circuit.rungs for output in rung.outputs}
        return {t for t in targets if "." not in t and t not in self.machine.lines and t not in self.tags}

    def target(
        self, output: tree.Output, circuit: tree.Circuit, reporter: Reporter
    ) -> tuple[str, Literal["drive", "node"]] | None:
        """What a circuit's output drives; None after reporting that it cannot."""
        name = output.target
        if name.text in self.nodes_of(circuit):
            node = f"{circuit.name}/{name.text}"
            return (name.text, "node") if self._claim(node, name, reporter) else None
        if name.text in self.tags:
            reporter.report("circuit-drives-tag", name.span, name=name.text)
            return None
        key = self.key_of(name, "bool", reporter)
        return (key, "drive") if key is not None and self._claim(key, name, reporter) else None

    def wired(self, name: tree.Name, kind: Literal["bool", "real"], reporter: Reporter) -> str | None:
        """The drive key that a wire from an output terminal leads to."""
        key = self.key_of(name, kind, reporter)
        return key if key is not None and self._claim(key, name, reporter) else None

    def key_of(self, name: tree.Name, kind: Literal["bool", "real"], reporter: Reporter) -> str | None:
        """`feed_pump.supply`, or what `K1` means: the one thing of that kind that it lets be driven."""
        part_name, _, _ = name.text.partition(".")
        if part_name in self.machine.broken:
            return None
        part = self.machine.parts.get(part_name)
        if part is None:
            mend = did_you_mean(part_name, self.machine.lines)
            reporter.report("drive-unknown", name.span, name=name.text, mend=mend)
            return None
        inputs = driven_inputs(part)
        fitting = [key for key, each in inputs.items() if (each.type == "bool") == (kind == "bool")]
        if name.text in inputs:
            if name.text in fitting:
                return name.text
            wants = "a number" if kind == "bool" else "on or off"
            reporter.report("drive-kind", name.span, name=name.text, wants=wants)
        elif name.text != part_name or len(fitting) != 1:
            choice = ", ".join(f"`{key}`" for key in fitting) or "nothing"
            reporter.report("drive-none", name.span, name=name.text, kind=part.kind, choice=choice)
        else:
            return fitting[0]
        return None

    def unit_of(self, key: str) -> str | None:
        """The unit of a drive."""
        return driven_inputs(self.machine.parts[key.partition(".")[0]])[key].unit

    def _claim(self, key: str, name: tree.Name, reporter: Reporter) -> bool:
        first = self.taken.setdefault(key, name.span)
        if first is name.span:
            return True
        reporter.report("drive-twice", name.span, name=name.text, related=((first, "driven here first"),))
        return False

    def report_unread(self, node: str, span: Span, reporter: Reporter) -> None:
        """A node that nobody reads: most likely a part misspelt."""
        drivable = [part.name for part in sound_parts(self.machine) if driven_inputs(part)]
        drivable += self.machine.broken
        reporter.report("node-unread", span, name=node, mend=did_you_mean(node, drivable))

    def undriven(self) -> list[str]:
        """Every drive that no circuit and no wire has taken."""
        return [k for part in sound_parts(self.machine) for k in driven_inputs(part) if k not in self.taken]
