"""From nodes to statements over many lanes at once: numbers as arrays, truths as words.

A number of all lanes is an array, worked out by one numpy call into a register: a buffer that is
taken when a value is made and given back after its last use, so that few of them are alive and
they stay in the cache. A truth is a word (`lanes_words.py`); what depends on nothing that differs
between lanes is one plain value. What only a select's arm or one side of an `and` needs is worked
out only where some lane asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from rungproof.logic.engines import compiled_writer
from rungproof.logic.engines.compiled_writer import literal
from rungproof.logic.engines.lanes_source import Source
from rungproof.logic.steps.intervals import extreme
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import REAL_LIMIT, assert_exhaustive

#: One numpy call each on numbers: operands, then where the result goes.
CALLS = {
    "add": "add",
    "sub": "subtract",
    "mul": "multiply",
    "quotient": "divide",
    "neg": "negative",
    "abs": "absolute",
}
#: One numpy call each from numbers to a mask.
COMPARISONS = {"lt": "less", "le": "less_equal", "eq": "equal"}
#: Helpers of our own, with the bits of `steps.operators`; their result goes to no operand.
GUARDED = {"divide": "divide_guarded", "div": "divide_int", "sqrt": "root", "round": "nearest"}
#: On words. `eq` and `select` of truths stand in `Section._word`.
LOGIC = {"and": "{0} & {1}", "or": "{0} | {1}", "not": "{0} ^ ones"}
assert_exhaustive("the lanes engine", [*CALLS, *COMPARISONS, *GUARDED, *LOGIC, "trunc", "real", "select"])

#: A condition and how it must stand somewhere for a node to be needed.
Guard = tuple[Node, bool]
#: A node stands under so many conditions at most.
DEEPEST_GUARD = 3


class Section:
    """A stretch of statements. `names` holds what is known before it: variables, hoisted values."""

    def __init__(self, source: Source, names: Mapping[Node, str]) -> None:
        self.source, self.lines, self.registers = source, source.lines, source.registers
        self.names = dict(names)
        self.owned: dict[Node, str] = {}
        self.compared: dict[Node, str] = {}
        self.left: dict[Node, int] = {}
        self.as_word: set[Node] = set()
        self.guards: dict[Node, tuple[Guard, ...]] = {}
        self.costly: dict[Node, bool] = {}
        self.needs: dict[Node, tuple[Node, ...]] = {}
        self.fresh: dict[Node, list[tuple[Guard, ...]]] = {}
        self.under: tuple[Guard, ...] = ()

    # -------------------------------------------------------------- what is asked

    def work_out(self, roots: Iterable[Node], partly: Iterable[tuple[Node, Guard]] = ()) -> None:
        """Work out all of `roots`, and `partly` where their conditions stand; they stay until `release`."""
        asked: list[tuple[Node, tuple[Guard, ...]]] = [(root, ()) for root in roots]
        asked += [(node, (guard,)) for node, guard in partly]
        conditions = [guard[0] for _, guards in asked for guard in guards]
        order = self._unknown([*conditions, *(node for node, _ in asked)])
        for node in order:
            self.costly[node] = self._is_costly(node)
        self._count(order, asked)
        self._guard(order, [*((each, ()) for each in conditions), *asked])
        for node in order:
            if node.operands:
                self._go_under(self.guards.get(node, ()))
                self._write(node)
        self._go_under(())

    def release(self) -> None:
        """Give back every register that the section still holds."""
        for name in (*self.owned.values(), *self.compared.values()):
            self.registers.give(name)
        self.owned.clear()
        self.compared.clear()

    def number(self, node: Node) -> str:
        """A number as an operand: an array, or one value for all lanes."""
        if node.operator != "constant":
            return self.names[node]
        return self.source.constants.setdefault(node, f"c{len(self.source.constants)}")

    def word(self, node: Node) -> str:
        """A truth as a word."""
        if node.operator == "constant":
            return "ones" if node.value else "0"
        name = self.names[node]
        return f"(ones if {name} else 0)" if self.source.is_alike(node) else name

    def plain(self, node: Node) -> str:
        """What is alike in all lanes as one plain value."""
        return literal(node) if node.operator == "constant" else self.names[node]

    def mask(self, node: Node) -> str:
        """A truth as a mask, brought up to date here if it is not yet."""
        if node in self.compared:
            return self.compared[node]
        known = self.fresh.setdefault(node, [])
        if any(set(each) <= set(self.under) for each in known):
            return f"mask{self.source.masks[node]}"
        known.append(self.under)
        return self.source.refresh(node, self.word(node))

    # -------------------------------------------------------------- preparation

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
                stack += [(each, False) for each in reversed(self._needed(node))]
        return order

    def _needed(self, node: Node) -> tuple[Node, ...]:
        """The operands that writing `node` reads: the cheap side first, a lesser value without its condition."""
        if node not in self.needs:
            operands = node.operands[1:] if self._extreme(node) else node.operands
            dear_first = node.operator in ("and", "or") and self._compares(operands[0])
            self.needs[node] = operands[::-1] if dear_first else operands
        return self.needs[node]

    def _is_costly(self, node: Node) -> bool:
        """Whether working it out takes more than logic."""
        if node in self.names or not node.operands or self.source.is_alike(node):
            return False
        return node.type != "bool" or self._compares(node) or any(self.costly.get(o, False) for o in node.operands)

    def _compares(self, node: Node) -> bool:
        numbers = node.operator in COMPARISONS and node.operands[0].type != "bool"
        return numbers and node not in self.names and not self.source.is_alike(node)

    def _extreme(self, node: Node) -> str:
        """`minimum` or `maximum` where a select is one and no sign of zero is at stake; else nothing."""
        found = extreme(node) if not self.source.is_alike(node) else None
        if found is None:
            return ""
        which, a, b = found
        facts = self.source.facts
        signed = node.type == "real" and not {a, b} <= facts.unsigned_zero
        if signed and not any(each.operator == "constant" and each.value != 0 for each in (a, b)):
            return ""
        return f"{which}imum"

    def is_extreme(self, node: Node) -> bool:
        """Whether a number is the lesser or the greater of two, in one call."""
        return bool(self._extreme(node))

    def _count(self, order: Sequence[Node], asked: Iterable[tuple[Node, tuple[Guard, ...]]]) -> None:
        """How often each value is read, and which truths are wanted as words."""
        for node in order:
            for place, operand in enumerate(self._needed(node)):
                self.left[operand] = self.left.get(operand, 0) + 1
                chooses = node.operator == "select" and place == 0 and not self._extreme(node)
                if not (node.type != "bool" and (chooses or node.operator == "real")):
                    self.as_word.add(operand)
        for root, guards in asked:
            self.left[root] = self.left.get(root, 0) + 1
            self.as_word.add(root)
            for condition, _ in guards:
                self.left[condition] = self.left.get(condition, 0) + 1
                self.as_word.add(condition)

    # -------------------------------------------------------------------- guards

    def _edges(self, node: Node) -> Iterator[tuple[Node, Guard | None]]:
        """The operands of `node`, each with the condition under which alone it is needed."""
        operands = self._needed(node)
        chooses = node.operator == "select" and not self._extreme(node)
        if (not chooses and node.operator not in ("and", "or")) or not self._can_guard(operands[0]):
            yield from ((each, None) for each in operands)
            return
        yield operands[0], None
        ways = (True, False) if chooses else (node.operator == "and",)
        for operand, way in zip(operands[1:], ways, strict=True):
            yield operand, (operands[0], way) if self.costly.get(operand, False) else None

    def _can_guard(self, node: Node) -> bool:
        return node.operator != "constant" and not self._compares(node)

    def _guard(self, order: Sequence[Node], asked: Iterable[tuple[Node, tuple[Guard, ...]]]) -> None:
        """The conditions that every use of a node stands under."""
        found: dict[Node, tuple[Guard, ...]] = {}

        def use(node: Node, guards: tuple[Guard, ...]) -> None:
            before = found.get(node)
            found[node] = guards if before is None else tuple(each for each in before if each in guards)

        for root, guards in asked:
            use(root, guards)
        for node in reversed(order):
            above = found.get(node, ())
            for operand, guard in self._edges(node):
                more = guard is not None and guard not in above and len(above) < DEEPEST_GUARD
                use(operand, (*above, guard) if more and guard is not None else above)
        self.guards |= found

    def _go_under(self, guards: tuple[Guard, ...]) -> None:
        """Leave and enter conditions, so that what is written next stands under `guards`."""
        if guards == self.under:
            return
        if self.under:
            self.lines.close()
        if guards:
            self.lines.open(f"if {' and '.join(map(self._stands, guards))}:")
        self.under = guards

    def _stands(self, guard: Guard) -> str:
        condition, way = guard
        if self.source.is_alike(condition):
            return self.plain(condition) if way else f"not {self.plain(condition)}"
        return self.word(condition) if way else f"{self.word(condition)} != ones"

    # ------------------------------------------------------------------- writing

    def _write(self, node: Node) -> None:
        if self.source.is_alike(node):
            name = self.names[node] = self.lines.fresh("u")
            template = compiled_writer.TEMPLATES[node.operator]
            self.lines.add(f"{name} = {template.format(*map(self.plain, node.operands))}")
        elif self._compares(node):
            self._compare(node)
        elif node.type == "bool":
            text = self._word(node)
            name = self.names[node] = self.lines.fresh()
            self.lines.add(f"{name} = {text}")
            self._dying(node)
        else:
            self._number(node)

    def _compare(self, node: Node) -> None:
        operands = [self.number(each) for each in node.operands]
        out = self.registers.take("bool")
        self.lines.add(f"{COMPARISONS[node.operator]}({operands[0]}, {operands[1]}, {out})")
        name = self.names[node] = self.lines.fresh()
        if node in self.as_word:
            self.lines.add(f"{name} = word_of({out})")
        self._give(self._dying(node), "")
        self.compared[node] = out

    def _word(self, node: Node) -> str:
        """Logic over words; what stands under a condition is read only where that stands."""
        edges = list(self._edges(node))
        operands = [self.word(each) for each, _ in edges]
        lazy = any(guard is not None for _, guard in edges)
        if node.operator == "eq":
            return f"{operands[0]} ^ {operands[1]} ^ ones"
        if node.operator == "select":
            c, a, b = operands
            chosen = f"{b} ^ ({c} & ({a} ^ {b}))"
            return f"{b} if not {c} else {a} if {c} == ones else {chosen}" if lazy else chosen
        text = LOGIC[node.operator].format(*operands)
        if not lazy:
            return text
        return f"{text} if {operands[0]} else 0" if node.operator == "and" else _unless_all(operands[0], text)

    def _number(self, node: Node) -> None:
        masked = node.operator == "real" and node.operands[0].type == "bool"
        operands = [self.mask(node.operands[0])] if masked else [self._operand(node, o) for o in self._needed(node)]
        extreme_call = self._extreme(node)
        dying = self._dying(node)
        out = self._place(node, dying)
        if extreme_call:
            self.lines.add(f"{extreme_call}({operands[0]}, {operands[1]}, out={out})")
        elif node.operator == "select":
            self._select(node, operands, out)
        elif node.operator in ("real", "trunc"):
            self.lines.add(f"copyto({out}, {operands[0]}, casting='unsafe')")
        else:
            call = CALLS.get(node.operator) or self._guarded(node)
            self.lines.add(f"{call}({', '.join(operands)}, {out})")
        self.names[node] = self.owned[node] = out
        self._give(dying, out)

    def _guarded(self, node: Node) -> str:
        """The helper's name, or plain numpy's where nothing is to guard against."""
        intervals = self.source.facts.intervals
        if node.operator == "sqrt" and intervals[node.operands[0]][0] >= 0:
            return "sqrt"
        if node.operator == "divide":
            low, high = intervals[node.operands[1]]
            within = all(abs(end) < REAL_LIMIT for end in intervals[node])
            if within and (low > 0 or high < 0):
                return "divide"
        return GUARDED[node.operator]

    def _operand(self, node: Node, operand: Node) -> str:
        if operand.type == "bool":
            return ""
        if self._extreme(node) and operand.operator == "constant":
            return self.source.wide.setdefault(operand, f"wide{len(self.source.wide)}")
        return self.number(operand)

    def _select(self, node: Node, operands: Sequence[str], out: str) -> None:
        condition, lines = node.operands[0], self.lines
        _, then, otherwise = operands
        if self.source.is_alike(condition):
            lines.add(f"if {self.plain(condition)}: copyto({out}, {then})")
            if out != otherwise:
                lines.add(f"else: copyto({out}, {otherwise})")
            return
        if out != otherwise:
            lines.add(f"copyto({out}, {otherwise})")
        if condition in self.compared:
            lines.add(f"put({out}, {self.compared[condition]}, {then})")
            return
        lines.open(f"if {self.word(condition)}:")
        above, self.under = self.under, (*self.under, (condition, True))
        lines.add(f"put({out}, {self.mask(condition)}, {then})")
        self.under = above
        lines.close()

    # ----------------------------------------------------------------- registers

    def _dying(self, node: Node) -> list[Node]:
        """Operands that nothing needs after this: their registers may be used again."""
        found = []
        for operand in self._needed(node):
            self.left[operand] -= 1
            if self.left[operand] == 0 and (operand in self.owned or operand in self.compared):
                found.append(operand)
        return list(dict.fromkeys(found))

    def _place(self, node: Node, dying: list[Node]) -> str:
        """Where a number goes: over a dying operand where that is safe, else in a free register."""
        extreme_call = self._extreme(node)
        reusable = dying if node.operator in CALLS or extreme_call else []
        if node.operator == "select" and not extreme_call:
            reusable = [o for o in dying if o is node.operands[2] and o is not node.operands[1]]
        for each in reusable:
            if each.type == node.type:
                return self.owned[each]
        return self.registers.take(node.type)

    def _give(self, dying: Iterable[Node], out: str) -> None:
        for each in dying:
            name = self.owned.pop(each, "") or self.compared.pop(each, "")
            if name != out:
                self.registers.give(name)


def _unless_all(word: str, text: str) -> str:
    return f"ones if {word} == ones else {text}"
