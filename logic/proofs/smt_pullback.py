"""Thresholds pulled back: where a monotone function of one variable crosses a constant.

Arithmetic on doubles is rounded, so a comparison after arithmetic says something else than
the same comparison in real numbers. But correct rounding keeps order: a chain of rounded
operations on one variable is monotone in it, so `chain <= constant` is `variable <= t` for
one `t`, which bisection over the doubles finds with the operators' own arithmetic.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from rungproof.logic.proofs.smt_ranges import Interval, Number, intervals, is_finite
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import OPERATORS, Scalar


@dataclass(frozen=True, slots=True)
class Chain:
    """A node that is monotone in `variable` alone; `rising` says which way. Constants have no chain."""

    variable: Node
    rising: bool


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where `chain OP constant` holds: at `variable <= at` if `below`, else at `variable >= at`.

    `at` None: it holds everywhere if `always`, else nowhere.
    """

    at: Number | None
    below: bool
    always: bool = False


@dataclass
class Chains:
    """Finds chains among nodes whose variables lie in `ranges` (variables without a finite range have none)."""

    ranges: Mapping[str, Interval]
    found: dict[Node, Chain | None] = field(default_factory=dict)

    def of(self, node: Node) -> Chain | None:
        pending = [node]
        while pending:
            each = pending[-1]
            unknown = [operand for operand in each.operands if operand not in self.found]
            if each in self.found or not unknown:
                pending.pop()
            if each not in self.found and not unknown:
                self.found[each] = self._chain(each)
            pending += unknown if each not in self.found else []
        return self.found[node]

    def _chain(self, node: Node) -> Chain | None:
        if node.operator == "variable":
            known = node.type != "bool" and is_finite(self.ranges.get(node.name, (0, float("inf"))))
            return Chain(node, True) if known else None
        rule = _RULES.get(node.operator)
        return rule(self, node) if rule is not None else None

    def _moving(self, node: Node) -> list[Chain] | None:
        """The chains of the operands that are not constants; None if one of those is no chain."""
        moving = [each for each in node.operands if each.operator != "constant"]
        chains = [self.found[each] for each in moving]
        known = [each for each in chains if each is not None]
        return known if len(known) == len(chains) and len({each.variable for each in known}) == 1 else None

    # ----------------------------------------------------------- by operator

    def _same_way(self, node: Node) -> Chain | None:
        moving = self._moving(node)
        if moving is None or len({each.rising for each in moving}) > 1:
            return None
        return moving[0]

    def _sub(self, node: Node) -> Chain | None:
        moving = self._moving(node)
        if moving is None:
            return None
        ways = {
            self._rises(each) == (place == 0)
            for place, each in enumerate(node.operands)
            if self._rises(each) is not None
        }
        return Chain(moving[0].variable, ways.pop()) if len(ways) == 1 else None

    def _rises(self, node: Node) -> bool | None:
        chain = self.found[node]
        return None if chain is None else chain.rising

    def _factor(self, node: Node) -> Chain | None:
        """A product with, or a quotient by, a constant other than 0."""
        moving = self._moving(node)
        a, b = node.operands
        if moving is None or len(moving) != 1 or (node.operator != "mul" and b.operator != "constant"):
            return None
        factor = a.value if a.operator == "constant" else b.value
        return Chain(moving[0].variable, moving[0].rising == (factor > 0)) if factor != 0 else None

    def _neg(self, node: Node) -> Chain | None:
        chain = self.found[node.operands[0]]
        return None if chain is None else Chain(chain.variable, not chain.rising)

    def _through(self, node: Node) -> Chain | None:
        return self.found[node.operands[0]]

    def _abs(self, node: Node) -> Chain | None:
        chain = self.found[node.operands[0]]
        if chain is None:
            return None
        low, high = intervals([node.operands[0]], self.ranges)[node.operands[0]]
        if low >= 0:
            return chain
        return Chain(chain.variable, not chain.rising) if high <= 0 else None

    def _select(self, node: Node) -> Chain | None:
        """Two pieces that meet in order: `min`, `max`, a clamp, a table."""
        test, then, otherwise = node.operands
        if test.operator not in ("lt", "le") or node.type == "bool":
            return None
        arms = self._moving_arms(then, otherwise)
        moving = self._moving(test)
        if arms is None or moving is None or len(moving) != 1 or moving[0].variable is not arms.variable:
            return None
        crossing = self.crossing(test)
        if crossing.at is None:
            kept = then if crossing.always else otherwise
            return self.found[kept]
        low, high = (then, otherwise) if crossing.below else (otherwise, then)
        inner, outer = self._sides(arms.variable, crossing)
        before, after = value_at(low, arms.variable, inner), value_at(high, arms.variable, outer)
        return arms if (before <= after) == arms.rising or before == after else None

    def _moving_arms(self, then: Node, otherwise: Node) -> Chain | None:
        chains = [self.found[each] for each in (then, otherwise) if each.operator != "constant"]
        known = [each for each in chains if each is not None]
        return known[0] if known and len(known) == len(chains) and len(set(known)) == 1 else None

    def _sides(self, variable: Node, crossing: Crossing) -> tuple[Number, Number]:
        """The last value of the variable below the crossing, and the first above it."""
        assert crossing.at is not None
        place = _Line.of(variable)
        at = place.index(crossing.at)
        return (place.value(at), place.value(at + 1)) if crossing.below else (place.value(at - 1), place.value(at))

    # ------------------------------------------------------------- crossings

    def crossing(self, comparison: Node) -> Crossing:
        """Where a comparison of a chain with a constant holds."""
        a, b = comparison.operands
        chain = self.of(b if a.operator == "constant" else a)
        assert chain is not None, "one side is a chain"
        holds_low = chain.rising == (b.operator == "constant")
        return self.edge(chain.variable, lambda x: bool(value_at(comparison, chain.variable, x)), below=holds_low)

    def edge(self, variable: Node, holds: Callable[[Number], bool], *, below: bool) -> Crossing:
        """The last value (`below`), or the first, of `variable` at which the monotone `holds` is true."""
        line = _Line.of(variable)
        low, high = (line.index(each) for each in self.ranges[variable.name])
        first, last = (low, high) if below else (high, low)
        if not holds(line.value(first)):
            return Crossing(None, below)
        if holds(line.value(last)):
            return Crossing(None, below, True)
        while abs(last - first) > 1:
            middle = (first + last) // 2
            if holds(line.value(middle)):
                first = middle
            else:
                last = middle
        return Crossing(line.value(first), below)


_RULES: dict[str, Callable[[Chains, Node], Chain | None]] = {
    "add": Chains._same_way,
    "sub": Chains._sub,
    "mul": Chains._factor,
    "quotient": Chains._factor,
    "divide": Chains._factor,
    "div": Chains._factor,
    "neg": Chains._neg,
    "abs": Chains._abs,
    "sqrt": Chains._through,
    "round": Chains._through,
    "trunc": Chains._through,
    "real": Chains._through,
    "select": Chains._select,
}


def value_at(node: Node, variable: Node, value: Number) -> Scalar:
    """What `node`, which depends on `variable` alone, is where that has `value`."""
    found: dict[Node, Scalar] = {variable: value}
    for each in ordered([node]):
        if each.operator == "constant":
            found[each] = each.value
        elif each is not variable:
            found[each] = OPERATORS[each.operator].plain(*(found[o] for o in each.operands))
    return found[node]


class _Line:
    """The values of a type in order, by whole numbers: an int is its own, a double its place among doubles."""

    def __init__(self, real: bool) -> None:
        self.real = real

    @classmethod
    def of(cls, variable: Node) -> _Line:
        return cls(variable.type == "real")

    def index(self, value: Number) -> int:
        if not self.real:
            return int(value)
        bits: int = struct.unpack("<q", struct.pack("<d", float(value) + 0.0))[0]
        return bits if bits >= 0 else -(bits & 0x7FFF_FFFF_FFFF_FFFF)

    def value(self, index: int) -> Number:
        if not self.real:
            return index
        magnitude: float = struct.unpack("<d", struct.pack("<q", abs(index)))[0]
        return magnitude if index >= 0 else -magnitude
