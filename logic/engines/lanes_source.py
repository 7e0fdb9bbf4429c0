"""What all stretches of the source of a run of many lanes share: its lines, its buffers, what is alike in all lanes."""

from __future__ import annotations

from dataclasses import dataclass, field

from rungproof.logic.engines.compiled_writer import Lines
from rungproof.logic.steps.narrow import Facts
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import Type

STEMS: dict[Type, str] = {"bool": "b", "int": "i", "real": "f"}
DTYPES = {"b": "bool_", "i": "int64", "f": "float64"}


@dataclass
class Registers:
    """The buffers of a generated run, by kind; `free` ones may be taken."""

    count: dict[str, int] = field(default_factory=lambda: dict.fromkeys(DTYPES, 0))
    free: dict[str, list[str]] = field(default_factory=lambda: {stem: [] for stem in DTYPES})

    def take(self, type_: Type) -> str:
        stem = STEMS[type_]
        if self.free[stem]:
            return self.free[stem].pop()
        self.count[stem] += 1
        return f"{stem}r{self.count[stem]}"

    def give(self, name: str) -> None:
        self.free[name[0]].append(name)

    def all(self) -> list[str]:
        return [f"{stem}r{i}" for stem, count in self.count.items() for i in range(1, count + 1)]


@dataclass
class Source:
    """What all stretches of a run's source share. `alike` says of a node whether it is the same in
    all lanes; `masks` numbers the truths of which a mask is kept."""

    facts: Facts
    alike: dict[Node, bool]
    lines: Lines = field(default_factory=Lines)
    registers: Registers = field(default_factory=Registers)
    constants: dict[Node, str] = field(default_factory=dict)
    wide: dict[Node, str] = field(default_factory=dict)
    masks: dict[object, int] = field(default_factory=dict)

    def is_alike(self, node: Node) -> bool:
        """A variable that is not listed differs; an expression is alike if all that it reads is."""
        pending = [node]
        while pending and node not in self.alike:
            now = pending[-1]
            unknown = [each for each in now.operands if each not in self.alike]
            if unknown:
                pending += unknown
            else:
                reads = bool(now.operands) and all(self.alike[each] for each in now.operands)
                self.alike.setdefault(now, now.operator == "constant" or reads)
                pending.pop()
        return self.alike[node]

    def refresh(self, key: object, word: str) -> str:
        """Bring the kept mask of `word` up to date; its name."""
        index = self.masks.setdefault(key, len(self.masks))
        self.lines.add(f"if {word} != kept{index}: kept{index} = {word}; mask{index} = mask_of({word}, octets)")
        return f"mask{index}"
