"""From nodes to Python text: the part of the compiled engine that knows the operators.

A node that is used once stands inside its user's expression, so that `x if c else y` works
out one arm only; a node used more often gets a local variable. Assignments that read old
values of one another are put in an order in which each reads before it is overwritten.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import assert_exhaustive

#: How each operator is written. `select` and the calls keep Python's own evaluation order.
TEMPLATES = {
    "and": "({0} and {1})",
    "or": "({0} or {1})",
    "not": "(not {0})",
    "add": "({0} + {1})",
    "sub": "({0} - {1})",
    "mul": "({0} * {1})",
    "quotient": "({0} / {1})",
    "divide": "_divide({0}, {1})",
    "div": "_div({0}, {1})",
    "neg": "(-{0})",
    "abs": "_abs({0})",
    "sqrt": "_root({0})",
    "round": "_round({0})",
    "trunc": "_trunc({0})",
    "real": "_float({0})",
    "lt": "({0} < {1})",
    "le": "({0} <= {1})",
    "eq": "({0} == {1})",
    "select": "({1} if {0} else {2})",
}
assert_exhaustive("the compiled engine", TEMPLATES)

#: Python's parser refuses deep nesting; a deeper expression is cut by a local variable.
DEEPEST = 25


@dataclass
class Lines:
    """The lines of a source under construction, with the present depth of indentation."""

    text: list[str] = field(default_factory=list)
    depth: int = 0
    count: int = 0

    def add(self, line: str) -> None:
        self.text.append("    " * self.depth + line)

    def fresh(self, stem: str = "x") -> str:
        self.count += 1
        return f"{stem}{self.count}"

    def open(self, line: str) -> None:
        self.add(line)
        self.depth += 1

    def close(self) -> None:
        """End what `open` began; a block that stayed empty gets its `pass`."""
        if self.text[-1].endswith(":"):
            self.add("pass")
        self.depth -= 1


@dataclass(frozen=True, slots=True)
class Update:
    """`local` becomes `value`, all updates of one block at once."""

    local: str
    value: Node


#: What an update waits on: a condition and how it must stand, or only itself.
_Key = tuple[Node, bool] | str


class Block:
    """Writes nodes within one block of the source; `names` says what each known node is called."""

    def __init__(self, lines: Lines, names: dict[Node, str]) -> None:
        self.lines = lines
        self.names = names

    def inner(self) -> Block:
        """A block under a condition: what it names is unknown outside."""
        return Block(self.lines, dict(self.names))

    def share(self, roots: Sequence[Node], also: Iterable[Node] = ()) -> None:
        """Give every node that `roots` use more than once, and each of `also`, a local variable."""
        wanted = set(also)
        order = [node for node in self._unknown([*roots, *wanted]) if node.operands]
        uses: dict[Node, int] = dict.fromkeys(order, 0)
        for node in order:
            for operand in node.operands:
                if operand in uses:
                    uses[operand] += 1
        for root in roots:
            if root in uses:
                uses[root] += 1
        depth: dict[Node, int] = {}
        for node in order:
            deep = 1 + max((depth.get(o, 0) for o in node.operands if o not in self.names), default=0)
            shared = uses[node] > 1 and not self._is_cheap(node)
            if shared or node in wanted or deep > DEEPEST:
                self.name(node)
                deep = 0
            depth[node] = deep

    def _unknown(self, roots: Sequence[Node]) -> list[Node]:
        """`ordered`, but not looking into nodes that already have a name."""
        order: list[Node] = []
        seen: set[Node] = set()
        stack: list[tuple[Node, bool]] = [(root, False) for root in reversed(roots)]
        while stack:
            node, done = stack.pop()
            if done:
                order.append(node)
            elif node not in seen and node not in self.names:
                seen.add(node)
                stack.append((node, True))
                stack += [(each, False) for each in reversed(node.operands)]
        return order

    def _is_cheap(self, node: Node) -> bool:
        return node.operator == "not" and (node.operands[0] in self.names)

    def name(self, node: Node) -> None:
        local = self.lines.fresh()
        self.lines.add(f"{local} = {self.write(node)}")
        self.names[node] = local

    def write(self, node: Node) -> str:
        """The expression of `node`; names and constants stand for themselves."""
        known = self.names.get(node)
        if known is not None:
            return known
        if node.operator == "constant":
            return literal(node)
        if node.operator == "variable":
            raise KeyError(f"`{node.name}` has no value here")
        return TEMPLATES[node.operator].format(*(self.write(each) for each in node.operands))

    # ---------------------------------------------------------------- updates

    def update(self, updates: Sequence[Update]) -> None:
        """Write `updates` as if they all happened at once."""
        before = dict(self.names)
        found: dict[_Key, list[Update]] = {}
        for each in updates:
            if self.names.get(each.value) != each.local:
                key, value = self._guard(each)
                found.setdefault(key, []).append(Update(each.local, value))
        groups = [_Group(key, members, self._reads(key, members)) for key, members in found.items()]
        for group in _in_order(groups, self):
            self._write_group(group)
        self.names = before

    def _guard(self, update: Update) -> tuple[_Key, Node]:
        """What must hold for a local to change at all, where its value says so."""
        node = update.value
        if node.operator == "select" and node not in self.names:
            condition, then, otherwise = node.operands
            if self.names.get(otherwise) == update.local:
                return (condition, True), then
            if self.names.get(then) == update.local:
                return (condition, False), otherwise
        return update.local, node

    def _reads(self, key: _Key, members: Sequence[Update]) -> set[str]:
        roots = [each.value for each in members]
        if isinstance(key, tuple):
            roots.append(key[0])
        found = {self.names[node] for node in roots if node in self.names}
        for node in self._unknown(roots):
            found.update(self.names[o] for o in node.operands if o in self.names)
        return found

    def _write_group(self, group: _Group) -> None:
        if isinstance(group.key, str):
            self.lines.add(f"{group.key} = {self.write(group.members[0].value)}")
            return
        condition, wanted = group.key
        self.lines.open(f"if {self.write(condition)}:" if wanted else f"if not {self.write(condition)}:")
        singles = [_Group(each.local, [each], self._reads(each.local, [each])) for each in group.members]
        for single in _in_order(singles, self):
            self._write_group(single)
        self.lines.close()


@dataclass
class _Group:
    """Updates under one condition; `waits_for` are the groups that must read before it writes."""

    key: _Key
    members: list[Update]
    reads: set[str]
    waits_for: set[int] = field(default_factory=set)
    holds_up: set[int] = field(default_factory=set)


def _in_order(groups: list[_Group], block: Block) -> list[_Group]:
    """Groups so ordered that whoever reads a local comes before who writes it; a loop is cut
    by keeping an old value."""
    writer = {each.local: index for index, group in enumerate(groups) for each in group.members}
    for index, group in enumerate(groups):
        for local in group.reads:
            other = writer.get(local, index)
            if other != index:
                group.holds_up.add(other)
                groups[other].waits_for.add(index)
    waiting = dict(enumerate(groups))
    ready = deque(index for index, group in waiting.items() if not group.waits_for)
    order: list[_Group] = []
    while waiting:
        index = ready.popleft() if ready else _cut(waiting, block)
        group = waiting.pop(index)
        order.append(group)
        for other in group.holds_up & waiting.keys():
            groups[other].waits_for.discard(index)
            if not groups[other].waits_for:
                ready.append(other)
    return order


def _cut(waiting: dict[int, _Group], block: Block) -> int:
    """Let the first waiting group write now: what it overwrites is kept under another name."""
    index = next(iter(waiting))
    kept = {}
    for each in waiting[index].members:
        kept[each.local] = block.lines.fresh("old")
        block.lines.add(f"{kept[each.local]} = {each.local}")
    for node, name in block.names.items():
        block.names[node] = kept.get(name, name)
    for reader in waiting[index].waits_for:
        waiting[reader].holds_up.discard(index)
    waiting[index].waits_for.clear()
    return index


def literal(node: Node) -> str:
    """A constant as Python text that reads back to the same bits."""
    text = repr(node.value)
    return f"({text})" if text.startswith("-") else text


def leaves(roots: Iterable[Node]) -> set[Node]:
    """The variables that `roots` depend on."""
    return {node for node in ordered(roots) if node.operator == "variable"}
