"""Where else a name is written and read: cross-references by the names of rungs.

Made from the tree, like the drawings, so that whatever can be read has them. A name with a dot
counts for the part or the stage before the dot: `K1.2` is a contact of K1.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text


@dataclass(slots=True)
class Uses:
    """One name. `what` says what it is in words (`input at X1:3 from S0.2`), `remark` what the
    file says of it; `written` and `read` are the rungs, requirements and terminals that do so, each
    once; `read` with the names by which they do it where those have a dot: contacts, `K1.2`."""

    what: str = ""
    remark: str = ""
    written: dict[str, None] = field(default_factory=dict)
    read: dict[str, dict[str, None]] = field(default_factory=dict)

    def read_by(self, where: str, name: str) -> None:
        contacts = self.read.setdefault(where, {})
        if "." in name:
            contacts.setdefault(name)

    def readers(self, besides: str) -> list[str]:
        """Who reads it besides the rung `besides`: `motor (K1.2)`."""
        return [
            f"{where} ({', '.join(contacts)})" if contacts else where
            for where, contacts in self.read.items()
            if where != besides
        ]


References = dict[str, Uses]


def references_of(blocks: Iterable[tree.Block], comments: Mapping[tuple[str, int], str]) -> References:
    """All names of a project that rungs speak of, by name. A part has no remark: the comment at its line is one."""
    blocks = list(blocks)
    found: References = {}
    tags = {line.name for block in blocks if isinstance(block, tree.Tags) for line in block.lines}
    stages = {each.name for rung in _rungs(blocks) for each in rung.elements if isinstance(each, tree.Stage)}
    known = tags | stages
    for block in blocks:
        if isinstance(block, tree.Tags):
            for line in block.lines:
                uses = found.setdefault(line.name, Uses())
                uses.what, uses.remark = line.role, line.remark or ""
        elif isinstance(block, tree.Plant):
            for part in block.parts:
                uses = found.setdefault(part.name, Uses())
                uses.what = part.kind.replace("_", " ")
                uses.remark = comments.get((part.span.file, part.span.line), "").lstrip("# ")
    for rung in _rungs(blocks):
        _add_rung(found, rung, known)
    for block in blocks:
        if isinstance(block, tree.Wiring):
            _add_wiring(found, block)
        elif isinstance(block, tree.Requirement):
            for name in names_in(block.form):
                found.setdefault(base_of(name, known), Uses()).read_by(block.name, name)
    return found


def _rungs(blocks: Iterable[tree.Block]) -> Iterator[tree.Rung]:
    for block in blocks:
        if isinstance(block, tree.Rung):
            yield block
        elif isinstance(block, tree.Circuit):
            yield from block.rungs


def _add_rung(found: References, rung: tree.Rung, known: Iterable[str]) -> None:
    for element in rung.elements:
        if isinstance(element, tree.Stage):
            found.setdefault(element.name, Uses(what="stage")).written.setdefault(rung.name)
        for name in names_in(element):
            found.setdefault(base_of(name, known), Uses()).read_by(rung.name, name)
    for output in rung.outputs:
        found.setdefault(base_of(output.target.text, known), Uses()).written.setdefault(rung.name)
        for expression in (output.value, output.when):
            for name in names_in(expression) if expression is not None else ():
                found.setdefault(base_of(name, known), Uses()).read_by(rung.name, name)


def _add_wiring(found: References, wiring: tree.Wiring) -> None:
    for line in wiring.lines:
        if not isinstance(line, tree.WireLine):
            continue
        uses = found.setdefault(line.tag.text, Uses())
        uses.what = f"{uses.what} at {line.terminal}".strip()
        if line.source is not None:
            uses.what += f" from {line.source.text}"
            source = line.source.text
            found.setdefault(base_of(source, ()), Uses()).read_by(f"terminal {line.terminal}", source)
        if line.target is not None:
            uses.what += f" to {line.target.text}"
            found.setdefault(base_of(line.target.text, ()), Uses()).written.setdefault(f"terminal {line.terminal}")


def names_in(node: object) -> Iterator[str]:
    """Every name that a line or an expression reads, in the order written."""
    waiting = [node]
    while waiting:
        each = waiting.pop()
        if isinstance(each, tree.Name):
            yield each.text
        elif isinstance(each, tuple):
            waiting += reversed(each)
        elif isinstance(each, tree.Node) and not isinstance(each, tree.Word):
            waiting += reversed([getattr(each, f.name) for f in fields(each) if f.name != "span"])


def base_of(name: str, known: Iterable[str]) -> str:
    """The tag, stage or part that a name is of: itself, or what stands before its dot."""
    return name if name in known or "." not in name else name.partition(".")[0]


def names_used(node: tree.Condition | tree.Stage | tree.Output, known: Collection[str]) -> Iterator[str]:
    """The names of `known` that a line speaks of: its stage, what it reads, what it drives."""
    own = [node.name] if isinstance(node, tree.Stage) else []
    written = [node.target.text] if isinstance(node, tree.Output) else []
    for name in (*own, *names_in(node), *written):
        if (base := base_of(name, known)) in known:
            yield base


def terminals_of(blocks: Iterable[tree.Block]) -> dict[str, str]:
    """The terminal of each wired tag."""
    lines = [line for block in blocks if isinstance(block, tree.Wiring) for line in block.lines]
    return {line.tag.text: line.terminal for line in lines if isinstance(line, tree.WireLine)}


def preset_words(stage: tree.Stage) -> str:
    """A stage's kind and preset as one reads them: `on-delay 4 min`."""
    return stage.kind if stage.preset is None else f"{stage.kind} {to_text(stage.preset)}"
