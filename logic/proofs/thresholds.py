"""Numbers rewritten to bits: every comparison becomes a threshold on a single variable.

`x * m + b >= t` is `x >= t'`, for the operators are monotone; t' is found by bisection with
the operators' own plain functions, so it is exact for doubles and ints. A state variable that is only
compared becomes one bit per threshold (`x >= t'`), an input an ordered family of free bits.
Where two variables meet (a timer's elapsed time and the length of a scan), the sum lies
between what its bounds say, and a free bit decides: the rewritten Step then shows every run
of the given one, and more (`exact` is off). Two variables that are compared with each other
are in order wherever a number that either is compared with lies between them, and so are
comparisons with the same variable at several distances (`x > p`, `x > p + 5`). With `keep_ints`
whole numbers that meet only whole-number arithmetic stay as they are, for an encoder that knows
them bit by bit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from itertools import pairwise

from rungproof.logic.proofs.bits import Bits, above, below
from rungproof.logic.proofs.kept_ints import kept_ints
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.monotone import direction, first_value, of_one
from rungproof.logic.proofs.order import Order
from rungproof.logic.steps.intervals import EVERYTHING, Interval, extreme, intervals_of, ranges
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    constant,
    either,
    inverse,
    ordered,
    select,
    substitute,
    typed_constant,
    variable,
)
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

#: Thresholds that a variable may have before it is taken as unknown.
MOST_THRESHOLDS = 48
#: Numbers between which two that are compared with each other are told apart, at most.
MOST_PLACES = 20


def to_bits(step: Step, free_starts: frozenset[str] = frozenset(), *, keep_ints: bool = False, levels: int = 0) -> Bits:
    """`step` without numbers (but for kept ints). `levels`: how far back sums of two variables are followed."""
    return _Rewriter(step, free_starts, keep_ints, levels).rewrite()


@dataclass
class _Rewriter:
    step: Step
    free_starts: frozenset[str]
    keep_ints: bool
    levels: int
    span: dict[Node, Interval] = field(default_factory=dict)
    done: dict[Node, Node] = field(default_factory=dict)
    pushed: dict[tuple[Node, float | int], Node] = field(default_factory=dict)
    families: dict[Node, dict[float | int, Node]] = field(default_factory=dict)
    count: dict[str, int] = field(default_factory=dict)
    given: dict[str, Interval] = field(default_factory=dict)
    states: dict[str, StateVariable] = field(default_factory=dict)
    next: dict[str, Node] = field(default_factory=dict)
    facts: dict[str, Literal] = field(default_factory=dict)
    waiting: list[tuple[str, Node, float | int, int]] = field(default_factory=list)
    kept: set[Node] = field(default_factory=set)
    exact: bool = True
    level: int = 0
    made: int = 0
    seen: set[Node] = field(default_factory=set)
    compared: dict[str, tuple[Node, Node]] = field(default_factory=dict)
    loose: set[str] = field(default_factory=set)
    order: Order = field(default_factory=Order)

    def rewrite(self) -> Bits:
        step = self.step
        self.given = ranges(step)
        self._measure(step.nodes)
        if self.keep_ints:
            self.kept = kept_ints(step, {name for name, span in self.given.items() if span == EVERYTHING})
        nexts, outputs = {}, {}
        for name, state in step.states.items():
            if state.type == "bool" or state.node in self.kept:
                self.states[name] = state
                if name in step.next:
                    nexts[name] = self._number(step.next[name]) if state.type == "int" else self._truth(step.next[name])
        for name, node in step.outputs.items():
            if node.type == "bool":
                outputs[name] = self._truth(node)
        while self.waiting:
            name, node, threshold, self.level = self.waiting.pop()
            nexts[name] = self._at_least(node, threshold)
        return self._finish(nexts, outputs)

    def _measure(self, nodes: list[Node]) -> None:
        self.span.update(intervals_of(nodes, self.given))

    # ------------------------------------------------------------------ truth

    def _truth(self, root: Node) -> Node:
        """A bool node over the new variables."""
        for node in _not_in(self.seen, root):
            if node.type == "bool" and node not in self.done:
                self.done[node] = self._one(node)
            self.seen.add(node)
        return self.done[root]

    def _one(self, node: Node) -> Node:
        if not node.operands:
            return node
        if node.operands[-1].type == "bool":
            return apply(node.operator, *(self.done[each] for each in node.operands))
        a, b = node.operands
        return self._compare(node.operator, a, b)

    def _compare(self, operator: str, a: Node, b: Node) -> Node:
        if a in self.kept and b in self.kept:
            return apply(operator, self._number(a), self._number(b))
        if b.operator == "constant":
            c = b.value
            if operator == "lt":
                return inverse(self._at_least(a, c))
            if operator == "le":
                return inverse(self._at_least(a, above(c)))
            return both(self._at_least(a, c), inverse(self._at_least(a, above(c))))
        if a.operator == "constant":
            if operator == "eq":
                return self._compare("eq", b, a)
            return self._at_least(b, a.value if operator == "le" else above(a.value))
        return self._two(operator, a, b)

    def _two(self, operator: str, a: Node, b: Node) -> Node:
        """A comparison of two numbers that vary: decided by their bounds, or left open."""
        (low_a, high_a), (low_b, high_b) = self.span[a], self.span[b]
        if operator != "eq" and (high_a < low_b or (operator == "le" and high_a <= low_b)):
            return ON
        if high_b < low_a or (operator == "lt" and high_b <= low_a) or (operator == "eq" and high_a < low_b):
            return OFF
        for one, other, swapped in ((a, b, False), (b, a, True)):
            if one.operator == "select" and any(each.operator == "constant" for each in one.operands[1:]):
                arms = [(other, each) if swapped else (each, other) for each in one.operands[1:]]
                return select(self._truth(one.operands[0]), *(self._compare(operator, *arm) for arm in arms))
        if operator == "lt":
            return self._less(a, b)
        if operator == "le":
            return inverse(self._less(b, a))
        return both(inverse(self._less(a, b)), inverse(self._less(b, a)))

    def _less(self, a: Node, b: Node) -> Node:
        """a < b: what the numbers say that lie between them, what other comparisons of them say, and a free bit."""
        known = self.order.known.get((a, b))
        if known is not None:
            return known
        free = variable(f"?less {len(self.compared)}", "bool")
        self.compared[free.name] = a, b
        self.exact = False
        self.loose |= _numbers_in(a) | _numbers_in(b)
        sure, possible = OFF, ON
        for place in self._places(a, b):
            a_reached = self._at_least(a, place)
            sure = either(sure, both(inverse(a_reached), self._at_least(b, place)))
            possible = both(possible, either(inverse(a_reached), self._at_least(b, above(place))))
        return self.order.placed(a, b, either(sure, both(possible, free)))

    def _places(self, a: Node, b: Node) -> list[float | int]:
        """Numbers between which two that meet are told apart: the ends of their ranges, and what either is
        compared with."""
        ends = [end for each in (a, b) for end in self.span[each] if abs(end) < math.inf]
        own = {node.name for node in ordered([a, b]) if node.operator == "variable"}
        compared = [
            float(c.value) if a.type == "real" else int(c.value)
            for node in self.step.nodes
            if node.operator in ("lt", "le", "eq") and node.operands[0].type != "bool"
            for x, c in (node.operands, node.operands[::-1])
            if c.operator == "constant" and x.operator == "variable" and x.name in own
        ]
        # What stands at such a number is told apart from what is above it.
        return list(dict.fromkeys(place for each in (*ends, *compared) for place in (each, above(each))))[:MOST_PLACES]

    # ------------------------------------------------------------- thresholds

    def _at_least(self, node: Node, threshold: float | int) -> Node:
        """`node >= threshold`."""
        key = node, threshold
        if key not in self.pushed:
            if node not in self.span:
                self._measure([node])
            low, high = self.span[node]
            self.pushed[key] = ON if low >= threshold else OFF if high < threshold else self._push(node, threshold)
        return self.pushed[key]

    def _push(self, node: Node, threshold: float | int) -> Node:
        if node in self.kept and node.operator != "constant":
            return apply("le", constant(math.ceil(threshold)), self._number(node))
        if node.operator == "variable":
            return self._variable(node, threshold)
        if node.operator == "select":
            return self._select(node, threshold)
        if node.operator == "abs":
            (x,) = node.operands
            return either(self._at_least(x, threshold), inverse(self._at_least(x, above(-threshold))))
        if node.operator == "real" and node.operands[0].type == "bool":
            return self._truth(node.operands[0])
        varying = [each for each in node.operands if each.operator != "constant"]
        if len(varying) == 1:
            return self._chain(node, varying[0], threshold)
        return self._sum(node, threshold) if node.operator in ("add", "sub") else self._family(node, threshold)

    def _variable(self, node: Node, threshold: float | int) -> Node:
        state = self.step.states.get(node.name)
        if state is None:
            return self._family(node, threshold)
        name = f"{node.name} >= {threshold!r}"
        if name not in self.states:
            if self.count.get(node.name, 0) >= MOST_THRESHOLDS:
                return self._family(node, threshold)
            self.count[node.name] = self.count.get(node.name, 0) + 1
            self.facts[name] = Literal(node.name, below(threshold), False)
            self.states[name] = StateVariable(name, "bool", state.start >= threshold)
            if node.name in self.step.next:
                self.waiting.append((name, self.step.next[node.name], threshold, self.level))
        return variable(name, "bool")

    def _select(self, node: Node, threshold: float | int) -> Node:
        one = extreme(node)
        if one is not None:
            join: Callable[..., Node] = both if one[0] == "min" else either
            return join(self._at_least(one[1], threshold), self._at_least(one[2], threshold))
        condition, then, otherwise = node.operands
        return select(self._truth(condition), self._at_least(then, threshold), self._at_least(otherwise, threshold))

    def _chain(self, node: Node, operand: Node, threshold: float | int) -> Node:
        """An operator of one number that varies: the threshold is carried back through it."""
        if operand.operator == "select" and extreme(operand) is None:
            arms = [_with(node, operand, each) for each in operand.operands[1:]]
            self._measure(arms)
            return select(self._truth(operand.operands[0]), *(self._at_least(arm, threshold) for arm in arms))
        plain = of_one(node, operand)
        sense = direction(node, operand, self.span[operand])
        low, high = self.span[operand]
        if sense == 0 or math.inf in (abs(low), abs(high)):
            return self._family(node, threshold)
        if sense > 0:
            return self._at_least(operand, first_value(operand.type, low, high, lambda x: plain(x) >= threshold))
        return inverse(self._at_least(operand, first_value(operand.type, low, high, lambda x: plain(x) < threshold)))

    def _sum(self, node: Node, threshold: float | int) -> Node:
        """a + b or a - b, both varying: what the bounds of one of them say, and a free bit between."""
        a, b = node.operands
        deeper = self.level < self.levels
        before = self.level
        self.level += 1
        for one in (a, b) if deeper else ():
            if one.operator == "select" and all(each.operator == "constant" for each in one.operands[1:]):
                arms = [_with(node, one, each) for each in one.operands[1:]]
                self._measure(arms)
                result = select(self._truth(one.operands[0]), *(self._at_least(arm, threshold) for arm in arms))
                self.level = before
                return result
        result = self._between(node, threshold, deeper)
        self.level = before
        return result

    def _between(self, node: Node, threshold: float | int, deeper: bool) -> Node:
        """What the bounds of the steadier operand say. Not `deeper`: no new threshold of the other one;
        only that a sum with something that is not negative is no less."""
        a, b = node.operands
        width = {each: self.span[each][1] - self.span[each][0] for each in (a, b)}
        small = b if width[b] <= width[a] else a
        unknown = self._family(node, threshold)
        low, high = self.span[small]
        if math.inf in (abs(low), abs(high)):
            return unknown
        grows = node.operator == "add" or small is a
        if not deeper:
            if node.operator == "add" and low >= 0:
                return either(self._at_least(b if small is a else a, threshold), unknown)
            return unknown
        ends = [_with(node, small, typed_constant(small.type, end)) for end in (low, high)]
        self._measure(ends)
        least, most = ends if grows else reversed(ends)
        return either(self._at_least(least, threshold), both(self._at_least(most, threshold), unknown))

    def _family(self, node: Node, threshold: float | int) -> Node:
        """A free bit for `node >= threshold`, ordered with the others of the same node."""
        family = self.families.setdefault(node, {})
        if threshold not in family:
            if node.operator != "variable" or node.name not in self.step.inputs:
                self.exact = False
                self.loose |= _numbers_in(node)
            # The name is one of its own: two numbers must not share a bit.
            self.made += 1
            family[threshold] = variable(f"?{self.made}", "bool")
        return family[threshold]

    # ------------------------------------------------------------- whole numbers

    def _number(self, root: Node) -> Node:
        """A kept int over the new variables; what is not kept in it is any value within its bounds."""
        for node in _not_in(self.done.keys(), root):
            if node.type == "bool" or node in self.done or node not in self.kept:
                continue
            operands = [self._truth(each) if each.type == "bool" else self.done[each] for each in node.operands]
            self.done[node] = apply(node.operator, *operands) if operands else node
        return self.done[root]

    # ------------------------------------------------------------------ finish

    def _finish(self, nexts: dict[str, Node], outputs: dict[str, Node]) -> Bits:
        given, thresholds, inputs = self._ordered_families()
        became = substitute([*nexts.values(), *outputs.values()], given)
        nexts = {name: became[node] for name, node in nexts.items()}
        outputs = {name: became[node] for name, node in outputs.items()}
        used = set(ordered([*nexts.values(), *outputs.values()]))
        inputs |= {name: each for name, each in self.step.inputs.items() if each.node in used}
        loose = [InputVariable(name, "bool") for name in self.compared]
        inputs |= {each.name: each for each in loose if each.node in used}
        free = {name for name in self.states if name in self.free_starts}
        free |= {name for name, fact in self.facts.items() if fact.name in self.free_starts}
        return Bits(
            Step(self.states, inputs, nexts, outputs),
            self.facts,
            thresholds,
            frozenset(free),
            self._starts(),
            self.exact,
            {name: pair for name, pair in self.compared.items() if name in inputs},
            frozenset(self.loose),
        )

    def _ordered_families(
        self,
    ) -> tuple[dict[Node, Node], dict[str, tuple[tuple[float | int, str], ...]], dict[str, InputVariable]]:
        """Free bits of one number made consistent: each says `and the next threshold as well`."""
        given: dict[Node, Node] = {}
        thresholds: dict[str, tuple[tuple[float | int, str], ...]] = {}
        inputs: dict[str, InputVariable] = {}
        for index, (node, family) in enumerate(self.families.items()):
            stem = node.name if node.operator == "variable" else f"open {index}"
            so_far, listed = ON, []
            for threshold in sorted(family):
                each = InputVariable(f"{stem} reaches {threshold!r}", "bool")
                inputs[each.name] = each
                so_far = both(so_far, each.node)
                given[family[threshold]] = so_far
                listed.append((threshold, each.name))
            if node.operator == "variable" and node.name in self.step.inputs:
                thresholds[stem] = tuple(listed)
        return given, thresholds, inputs

    def _starts(self) -> tuple[Clause, ...]:
        """Thresholds of one free start are ordered: what reaches the higher reaches the lower."""
        clauses = []
        for name in sorted(self.free_starts):
            bounds = sorted(f.bound for f in self.facts.values() if f.name == name and f.bound is not None)
            for lower, higher in pairwise(bounds):
                clauses.append((Literal(name, lower, False), Literal(name, higher, True)))
        return tuple(clauses)


def _numbers_in(node: Node) -> set[str]:
    """The numbers that vary and that a node is made of."""
    return {each.name for each in ordered([node]) if each.operator == "variable" and each.type != "bool"}


def _not_in(done: Collection[Node], root: Node) -> list[Node]:
    """What `root` needs, operands before users, without what is done and all below it."""
    order: list[Node] = []
    found: set[Node] = set()
    stack: list[tuple[Node, bool]] = [(root, False)]
    while stack:
        node, ready = stack.pop()
        if ready:
            order.append(node)
        elif node not in done and node not in found:
            found.add(node)
            stack.append((node, True))
            stack += [(each, False) for each in node.operands]
    return order


def _with(node: Node, old: Node, new: Node) -> Node:
    return apply(node.operator, *(new if each is old else each for each in node.operands))
