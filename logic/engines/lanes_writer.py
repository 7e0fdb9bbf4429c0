"""From nodes to numpy statements over many lanes at once, in reused buffers.

Every operator works out all lanes, both arms of a select included, into a register: a
buffer that is taken when a value is made and given back after its last use, so that few of
them are alive and they stay in the cache. Nothing is allocated while a run goes on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from rungproof.logic.engines.compiled_writer import Lines
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import Type, assert_exhaustive

#: One numpy call each, `out` last.
CALLS = {
    "and": "logical_and",
    "or": "logical_or",
    "not": "logical_not",
    "add": "add",
    "sub": "subtract",
    "mul": "multiply",
    "quotient": "divide",
    "neg": "negative",
    "abs": "absolute",
    "lt": "less",
    "le": "less_equal",
    "eq": "equal",
}
#: Written by a method or a helper of their own.
SPECIAL = ("divide", "div", "sqrt", "round", "trunc", "real", "select")
assert_exhaustive("the lanes engine", [*CALLS, *SPECIAL])

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


class Constants:
    """Constants of a run as numpy scalars under short names."""

    def __init__(self) -> None:
        self.names: dict[Node, str] = {}

    def name(self, node: Node) -> str:
        return self.names.setdefault(node, f"k{len(self.names)}")

    def lines(self) -> list[str]:
        return [f"{name} = np.{DTYPES[STEMS[node.type]]}({node.value!r})" for node, name in self.names.items()]


class Section:
    """A stretch of statements. `names` holds what is known before it: states, hoisted values."""

    def __init__(self, lines: Lines, names: Mapping[Node, str], registers: Registers, constants: Constants) -> None:
        self.lines, self.registers, self.constants = lines, registers, constants
        self.names = dict(names)
        self.owned: dict[Node, str] = {}
        self.left: dict[Node, int] = {}

    def work_out(self, roots: Sequence[Node], lasting: Iterable[Node] = ()) -> None:
        """Work out all of `roots` into registers, which stay taken until `release`."""
        order = self._unknown([*roots, *lasting])
        for node in order:
            for operand in _needed(node):
                self.left[operand] = self.left.get(operand, 0) + 1
        for root in [*roots, *lasting]:
            self.left[root] = self.left.get(root, 0) + 1
        for node in order:
            if node.operands:
                self._write(node)

    def release(self) -> None:
        """Give back every register that the section still holds."""
        for name in self.owned.values():
            self.registers.give(name)
        self.owned.clear()

    def text(self, node: Node) -> str:
        if node.operator == "constant":
            return self.constants.name(node)
        return self.names[node]

    def _unknown(self, roots: Sequence[Node]) -> list[Node]:
        order: list[Node] = []
        seen: set[Node] = set()
        stack = [(root, False) for root in reversed(roots)]
        while stack:
            node, done = stack.pop()
            if done:
                order.append(node)
            elif node not in seen and node not in self.names:
                seen.add(node)
                stack.append((node, True))
                stack += [(each, False) for each in reversed(_needed(node))]
        return order

    def _write(self, node: Node) -> None:
        operands = [self.text(each) for each in _needed(node)]
        dying = self._dying(node)
        out = self._place(node, dying)
        if node.operator == "select":
            self._select(node, operands, out)
        elif node.operator in CALLS:
            self.lines.add(f"np.{CALLS[node.operator]}({', '.join(operands)}, out={out})")
        elif node.operator in ("real", "trunc"):
            self.lines.add(f"np.copyto({out}, {operands[0]}, casting='unsafe')")
        else:
            self.lines.add(f"_{node.operator}({', '.join(operands)}, {out})")
        self.names[node] = self.owned[node] = out
        for each in dying:
            name = self.owned.pop(each)
            if name != out:
                self.registers.give(name)

    def _dying(self, node: Node) -> list[Node]:
        """Operands that nothing needs after this: their registers may be used again."""
        found = []
        for operand in _needed(node):
            self.left[operand] -= 1
            if self.left[operand] == 0 and operand in self.owned:
                found.append(operand)
        return found

    def _place(self, node: Node, dying: list[Node]) -> str:
        """Where the value goes: over a dying operand where that is safe, else in a free register."""
        reusable = dying if node.operator in CALLS or _extreme(node) else []
        if node.operator == "select" and not _extreme(node):
            reusable = [o for o in dying if o is node.operands[2] and o not in node.operands[:2]]
        for each in reusable:
            if each.type == node.type:
                return self.owned[each]
        return self.registers.take(node.type)

    def _select(self, node: Node, operands: list[str], out: str) -> None:
        extreme = _extreme(node)
        if extreme:
            self.lines.add(f"np.{extreme}({operands[0]}, {operands[1]}, out={out})")
            return
        if out != operands[2]:
            self.lines.add(f"np.copyto({out}, {operands[2]})")
        self.lines.add(f"np.copyto({out}, {operands[1]}, where={operands[0]})")


def _needed(node: Node) -> tuple[Node, ...]:
    """The operands that writing `node` reads: a least or greatest value needs no condition."""
    return node.operands[1:] if _extreme(node) else node.operands


def _extreme(node: Node) -> str:
    """`minimum` or `maximum` where a select is one and no sign of zero is at stake; else nothing."""
    if node.operator != "select" or node.operands[0].operator != "lt":
        return ""
    condition, then, otherwise = node.operands
    if condition.operands not in ((then, otherwise), (otherwise, then)):
        return ""
    if node.type == "real" and not any(o.operator == "constant" and o.value != 0 for o in (then, otherwise)):
        return ""
    return "minimum" if condition.operands == (then, otherwise) else "maximum"
