"""Wiring: which tag stands at which terminal, over which channel, from or to which part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.circuits_targets import Drives
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.machine_supplies import supply_named
from rungproof.logic.meaning.program import InputWire, OutputWire, Tag
from rungproof.logic.meaning.scope import nearest_name
from rungproof.logic.meaning.wiring_channels import channel_of
from rungproof.logic.meaning.wiring_sources import source_of


@dataclass(slots=True)
class Wired:
    """What the wiring says. `sound` is false where a line of it was at fault; `misled` are output tags whose wire goes
    to something that is not understood, so that it is not said of them too that they lead nowhere."""

    inputs: list[InputWire] = field(default_factory=list)
    outputs: list[OutputWire] = field(default_factory=list)
    controller_supply: str | None = None
    modules: dict[str, tuple[str, str | None, Span]] = field(default_factory=dict)
    terminals: dict[str, Span] = field(default_factory=dict)
    tags: dict[str, Span] = field(default_factory=dict)
    misled: set[str] = field(default_factory=set)
    sound: bool = True


@dataclass(slots=True)
class _Reader:
    machine: Machine
    tags: Mapping[str, Tag | None]
    drives: Drives
    reporter: Reporter
    wired: Wired = field(default_factory=Wired)
    unfed: set[str] = field(default_factory=set)

    # ----------------------------------------------------------------- feeds

    def feed(self, line: tree.FeedLine) -> None:
        """`controller from P24`, `inputs X1 from P24`."""
        fed = "The controller" if line.module is None else f"Module {line.module}"
        key = line.module or ""
        if key in self.wired.modules:
            related = ((self.wired.modules[key][2], "fed here first"),)
            self.reporter.report("fed-twice", line.span, fed=fed, related=related)
            return
        supply = supply_named(line.supply, self.machine, fed, self.reporter)
        self.wired.sound = self.wired.sound and supply is not None
        self.wired.modules[key] = (line.what, supply, line.span)
        if line.module is None:
            self.wired.controller_supply = supply

    def _module_supply(self, line: tree.WireLine, role: str) -> str | None:
        module = line.terminal.partition(":")[0]
        if module not in self.wired.modules:
            if module not in self.unfed:
                self.reporter.report("module-unfed", line.span, module=module, kind=f"{role}s")
                self.unfed.add(module)
            return None
        what, supply, span = self.wired.modules[module]
        if what != f"{role}s":
            related = ((span, f"module {module} is declared here"),)
            fields = {"tag": line.tag.text, "role": role, "module": module, "what": what}
            self._fault("module-direction", line.tag.span, related=related, **fields)
        return supply

    # ----------------------------------------------------------------- wires

    def wire(self, line: tree.WireLine) -> None:
        if self._taken(line):
            return
        tag = self._tag(line)
        if tag is None:
            return
        if tag.role == "input":
            self._input(line, tag)
        else:
            self._output(line, tag)

    def _taken(self, line: tree.WireLine) -> bool:
        """A terminal takes one wire, and a tag has one terminal."""
        first = self.wired.terminals.setdefault(line.terminal, line.span)
        if first is not line.span:
            self._fault("terminal-twice", line.span, terminal=line.terminal, related=((first, "taken here"),))
            self.wired.tags.setdefault(line.tag.text, line.span)
            return True
        first = self.wired.tags.setdefault(line.tag.text, line.span)
        if first is not line.span:
            self._fault("tag-wired-twice", line.tag.span, tag=line.tag.text, related=((first, "wired here first"),))
            return True
        return False

    def _tag(self, line: tree.WireLine) -> Tag | None:
        name = line.tag.text
        if name not in self.tags:
            wirable = [n for n, t in self.tags.items() if t is None or t.role in ("input", "output")]
            self._fault("wired-tag-unknown", line.tag.span, mend=did_you_mean(name, wirable), tag=name)
            meant = nearest_name(name, dict.fromkeys(wirable))
            if meant is not None:  # it is not left unwired: its name is misspelt
                self.wired.tags.setdefault(meant, line.span)
            return None
        tag = self.tags[name]
        if tag is not None and tag.role not in ("input", "output"):
            self._fault("wired-tag-role", line.tag.span, tag=name, role=tag.role)
            return None
        return tag

    def _input(self, line: tree.WireLine, tag: Tag) -> None:
        supply = self._module_supply(line, "input")
        if line.target is not None:
            self._fault("wire-direction", line.target.span, tag=tag.name, role="input", word="from", wrong="to")
            return
        if line.source is None:
            self.reporter.report("input-spare", line.span, tag=tag.name)
        source = source_of(line.source, tag, self.machine, self.reporter) if line.source is not None else None
        if line.source is not None and source is None:
            self.wired.sound = False
        signal = source.signal if source is not None else None
        channel, sound = channel_of(line, tag, signal.unit if signal is not None else None, self.reporter)
        self.wired.sound = self.wired.sound and sound
        key = source.key if source is not None else None
        self.wired.inputs.append(InputWire(tag.name, line.terminal, key, channel, supply, line.span))

    def _output(self, line: tree.WireLine, tag: Tag) -> None:
        supply = self._module_supply(line, "output")
        if line.source is not None:
            self._fault("wire-direction", line.source.span, tag=tag.name, role="output", word="to", wrong="from")
            return
        target, unit = None, None
        if line.target is not None:
            target = self.drives.wired(line.target, "bool" if tag.type == "bool" else "real", self.reporter)
            self.wired.sound = self.wired.sound and target is not None
            unit = self.drives.unit_of(target) if target is not None else None
        channel, sound = channel_of(line, tag, unit, self.reporter)
        self.wired.sound = self.wired.sound and sound
        if line.target is not None and target is None:
            self.wired.misled.add(tag.name)
        self.wired.outputs.append(OutputWire(tag.name, line.terminal, target, channel, supply, line.span))

    def _fault(
        self,
        code: str,
        span: Span,
        *,
        related: tuple[tuple[Span, str], ...] = (),
        mend: str | None = None,
        **fields: object,
    ) -> None:
        self.reporter.report(code, span, related=related, mend=mend, **fields)
        self.wired.sound = False


def read_wiring(
    blocks: Iterable[tree.Wiring],
    machine: Machine,
    tags: Mapping[str, Tag | None],
    drives: Drives,
    reporter: Reporter,
) -> Wired:
    """All wiring lines; feeds first, so that their order does not matter."""
    reader = _Reader(machine, tags, drives, reporter)
    lines = [line for block in blocks for line in block.lines]
    for line in lines:
        if isinstance(line, tree.FeedLine):
            reader.feed(line)
    for line in lines:
        if isinstance(line, tree.WireLine):
            reader.wire(line)
    return reader.wired


def check_complete(
    wired: Wired,
    machine: Machine,
    tags: Mapping[str, Tag | None],
    in_circuits: Mapping[str, Span],
    reporter: Reporter,
) -> None:
    """Nothing forgotten. `in_circuits` maps an output tag to where a circuit reads its terminal."""
    if "" not in wired.modules:
        reporter.report("controller-unfed", machine.span)
    for tag in tags.values():
        if tag is None or tag.name in wired.tags:
            continue
        if tag.role == "input":
            reporter.report("input-unwired", tag.span, tag=tag.name)
            wired.sound = False
        elif tag.role == "output" and tag.name in in_circuits:
            related = ((in_circuits[tag.name], "a circuit reads its terminal here"),)
            reporter.report("terminal-missing", tag.span, tag=tag.name, related=related)
            wired.sound = False
        elif tag.role == "output":
            reporter.report("output-unwired", tag.span, tag=tag.name)
    for wire in wired.outputs:
        if wire.target is None and wire.tag not in in_circuits and wire.tag not in wired.misled:
            reporter.report("output-leads-nowhere", wire.span, tag=wire.tag, terminal=wire.terminal)
