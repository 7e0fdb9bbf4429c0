"""All of some variables become something at once, in every lane or in those of a word.

A variable that keeps its value but where a condition stands is written there only. Who reads the
old value of another comes first; where they read one another in a ring, an old value is copied.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rungproof.logic.engines.lanes_writer import Guard, Section
from rungproof.logic.steps.node import Node, ordered


@dataclass
class Moves:
    """What becomes what. `words` and `alike` are truths and values shared by all lanes; `whole`
    numbers are written wherever the move is; `partly` ones where a condition stands as well."""

    section: Section
    words: dict[Node, Node] = field(default_factory=dict)
    alike: dict[Node, Node] = field(default_factory=dict)
    whole: dict[Node, Node] = field(default_factory=dict)
    partly: dict[Node, tuple[Guard, Node]] = field(default_factory=dict)

    @property
    def roots(self) -> list[Node]:
        """What must be worked out in any case."""
        return [*self.words.values(), *self.alike.values(), *self.whole.values()]

    @property
    def conditional(self) -> list[tuple[Node, Guard]]:
        """What must be worked out where a condition stands."""
        return [(value, guard) for guard, value in self.partly.values()]

    # ----------------------------------------------------------------- writing

    def write(self, under: str = "") -> None:
        """The statements; `under` names the word of the lanes that move, all of them if it is empty."""
        taken: list[str] = []
        if under:
            self._write_under(under, taken)
        else:
            self._exchange(taken)
        for name in taken:
            self.section.registers.give(name)

    def _copied(self, value: Node, taken: list[str]) -> str:
        """A copy of a number as it is now."""
        name = self.section.registers.take(value.type)
        taken.append(name)
        self.section.lines.add(f"copyto({name}, {self.section.number(value)})")
        return name

    def _exchange(self, taken: list[str]) -> None:
        """New values' buffers change places with the old ones'."""
        section, used = self.section, set[str]()
        pairs: list[tuple[str, str]] = []
        for node, value in self.whole.items():
            source = section.owned.get(value, "")
            if not source or source in used:
                source = self._copied(value, taken)
            used.add(source)
            pairs.append((section.names[node], source))
        self._write_partly("", taken)
        for name, source in pairs:
            section.lines.add(f"{name}, {source} = {source}, {name}")
        for value, name in list(section.owned.items()):
            if name in used:
                section.names.pop(value, None)
        self._assign(
            {
                **{node: section.word(value) for node, value in self.words.items()},
                **{node: section.plain(value) for node, value in self.alike.items()},
            }
        )

    def _assign(self, texts: Mapping[Node, str]) -> None:
        if texts:
            targets = ", ".join(self.section.names[node] for node in texts)
            self.section.lines.add(f"{targets} = {', '.join(texts.values())}")

    def _write_under(self, under: str, taken: list[str]) -> None:
        section, lines = self.section, self.section.lines
        changing = {*self.whole, *self.partly}
        texts = {
            node: self._copied(value, taken) if value in changing else section.number(value)
            for node, value in self.whole.items()
        }
        self._write_partly(under, taken)
        if not self.whole and not self.words:
            return
        lines.open(f"if {under} == ones:")
        for node, text in texts.items():
            lines.add(f"copyto({section.names[node]}, {text})")
        self._assign({node: section.word(value) for node, value in self.words.items()})
        lines.close()
        lines.open("else:")
        if self.whole:
            mask = section.source.refresh(under, under)
            for node, text in texts.items():
                lines.add(f"put({section.names[node]}, {mask}, {text})")
        self._assign(
            {
                node: f"{section.names[node]} ^ ({under} & ({section.names[node]} ^ {section.word(value)}))"
                for node, value in self.words.items()
            }
        )
        lines.close()

    def _write_partly(self, under: str, taken: list[str]) -> None:
        """In place: readers of an old value before its writer."""
        section, lines = self.section, self.section.lines
        texts = {node: section.number(value) for node, (_, value) in self.partly.items()}
        pending = dict(self.partly)
        while pending:
            free = [n for n in pending if not any(v is n for m, (_, v) in pending.items() if m is not n)]
            if not free:
                first = next(iter(pending))
                copied = self._copied(first, taken)
                texts |= {node: copied for node, (_, value) in pending.items() if value is first}
                free = [first]
            guard = pending[free[0]][0]
            group = [node for node in free if pending[node][0] == guard]
            mask = self._open(guard, under)
            for node in group:
                put = f"put({section.names[node]}, {mask}, {texts[node]})"
                lines.add(put if mask else f"copyto({section.names[node]}, {texts[node]})")
                del pending[node]
            lines.close()

    def _open(self, guard: Guard, under: str) -> str:
        """Open the lines that are for lanes where `guard` stands; their mask, or nothing for all lanes."""
        (condition, way), section = guard, self.section
        lines = section.lines
        if section.source.is_alike(condition):
            lines.open(f"if {'' if way else 'not '}{section.plain(condition)}:")
            return section.source.refresh(under, under) if under else ""
        word = section.word(condition) if way else f"({section.word(condition)} ^ ones)"
        lines.add(f"here = {word} & {under}" if under else f"here = {word}")
        lines.open("if here:")
        return section.source.refresh((condition, way, under), "here")


def moves(section: Section, values: Mapping[Node, Node], beside: Iterable[Node] = ()) -> Moves:
    """How `values` become; `beside` is what else the section works out."""
    found = Moves(section)
    read = {operand for node in ordered([*values.values(), *beside]) for operand in node.operands}
    read |= set(beside)
    for node, value in values.items():
        if node is value:
            continue
        if section.source.is_alike(node):
            found.alike[node] = value
        elif node.type == "bool":
            found.words[node] = value
        else:
            whole = value in read or section.is_extreme(value)
            partly = None if whole else _partly(node, value)
            if partly is not None:
                found.partly[node] = partly
            else:
                found.whole[node] = value
    return found


def _partly(node: Node, value: Node) -> tuple[Guard, Node] | None:
    """The condition under which `node` changes at all, and what it then becomes."""
    if value.operator != "select":
        return None
    condition, then, otherwise = value.operands
    if otherwise is node:
        return (condition, True), then
    return ((condition, False), otherwise) if then is node else None
