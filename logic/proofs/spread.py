"""A comparison of two numbers that have some number in common, as comparisons of what they are made of.

`max(0, x) + 0.01 < min(10, x)` is `0.01 < 10 and 0.01 < x and x + 0.01 < 10 and x + 0.01 < x`, and of the last anybody
sees that it is never so. What is chosen by a truth is compared choice by choice; a constant is added to the lesser or
the greater of two as it is to each, for rounding keeps order. So the Step that comes out says the same as the given
one, double for double; where a number may be none at all, it is only chosen and never put in order.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from rungproof.logic.proofs.order import at_most
from rungproof.logic.steps.intervals import Interval, extreme, intervals_of, ranges
from rungproof.logic.steps.node import OFF, ON, Node, apply, both, either, ordered, select
from rungproof.logic.steps.step import Step

#: Comparisons that one may become before it is left as it is.
MOST_PARTS = 64


def spread(step: Step) -> Step:
    """`step` with its comparisons of such numbers spread out; itself where it has none."""
    if not any(_is_joined(node) for node in step.nodes):
        return step
    spans = ranges(step)
    # What chooses the lesser of two stays: without it the two have no order.
    choosing = {node.operands[0] for node in step.nodes if extreme(node) is not None}
    became: dict[Node, Node] = {}
    for node in step.nodes:
        operands = [became[each] for each in node.operands]
        lifted = _lifted(node.operator, *operands) if operands else node
        wide = _Spread(spans).of(lifted) if node not in choosing and _is_joined(lifted) else None
        became[node] = lifted if wide is None else wide
    return Step(
        step.states,
        step.inputs,
        {name: became[node] for name, node in step.next.items()},
        {name: became[node] for name, node in step.outputs.items()},
    )


def _is_joined(node: Node) -> bool:
    if node.operator not in ("lt", "le") or any(each.type != "real" for each in node.operands):
        return False
    one, other = (_numbers_in(each) for each in node.operands)
    return not one.isdisjoint(other)


def _numbers_in(node: Node) -> set[str]:
    return {each.name for each in ordered([node]) if each.operator == "variable" and each.type == "real"}


def _lifted(operator: str, *operands: Node) -> Node:
    """A nought that a truth chooses, added to or taken from a number: the truth chooses between two sums."""
    if operator in ("add", "sub") and operands[1].operator == "select" and operands[1].type == "real":
        truth, *arms = operands[1].operands
        if any(_is_nought(each) for each in arms):
            return select(truth, *(_plain(apply(operator, operands[0], each)) for each in arms))
    return _plain(apply(operator, *operands))


def _plain(node: Node) -> Node:
    """Without a nought that is added or taken: that changes no more than the sign of another nought, which no
    operator tells."""
    while node.type == "real" and node.operator in ("add", "sub") and _is_nought(node.operands[1]):
        node = node.operands[0]
    return node


def _is_nought(node: Node) -> bool:
    return node.operator == "constant" and node.value == 0


@dataclass(frozen=True)
class _Parts:
    """A number as one of two: the lesser, the greater, or the one that `truth` chooses."""

    kind: Literal["min", "max", "select"]
    one: Node
    other: Node
    truth: Node = ON


class _TooManyError(Exception):
    """Raised where a comparison would become too many."""


@dataclass
class _Spread:
    spans: Mapping[str, Interval]
    known: dict[tuple[Node, Node, bool], Node] = field(default_factory=dict)

    def of(self, node: Node) -> Node | None:
        """What a comparison says, spread out; None where that would be too much."""
        a, b = node.operands
        try:
            return self._less(a, b, node.operator == "lt")
        except _TooManyError:
            return None

    def _less(self, a: Node, b: Node, strict: bool) -> Node:
        """a < b where `strict`, a <= b elsewhere."""
        if (a, b, strict) not in self.known:
            if len(self.known) >= MOST_PARTS:
                raise _TooManyError
            self.known[a, b, strict] = OFF  # counted from now on
            self.known[a, b, strict] = self._one(a, b, strict)
        return self.known[a, b, strict]

    def _one(self, a: Node, b: Node, strict: bool) -> Node:
        if strict and at_most(b, a):
            return OFF
        if not strict and at_most(a, b) and self._is_a_number(a) and self._is_a_number(b):
            return ON
        parts = self._parts(b)
        if parts is not None:
            one, other = self._less(a, parts.one, strict), self._less(a, parts.other, strict)
            return _joined(parts, one, other, all_of="min")
        parts = self._parts(a)
        if parts is not None:
            one, other = self._less(parts.one, b, strict), self._less(parts.other, b, strict)
            return _joined(parts, one, other, all_of="max")
        return apply("lt" if strict else "le", a, b)

    def _parts(self, node: Node) -> _Parts | None:
        found = extreme(node)
        if found is not None and all(self._is_a_number(each) for each in found[1:]):
            return _Parts("min" if found[0] == "min" else "max", found[1], found[2])
        if node.operator == "select":
            return _Parts("select", node.operands[1], node.operands[2], node.operands[0])
        if node.operator not in ("add", "sub") or node.operands[1].operator != "constant":
            return None
        inner, more = self._parts(node.operands[0]), node.operands[1]
        if inner is None:
            return None
        one, other = (apply(node.operator, each, more) for each in (inner.one, inner.other))
        return replace(inner, one=one, other=other)

    def _is_a_number(self, node: Node) -> bool:
        low, high = intervals_of([node], self.spans)[node]
        return math.inf not in (abs(low), abs(high))


def _joined(parts: _Parts, one: Node, other: Node, *, all_of: str) -> Node:
    if parts.kind == "select":
        return select(parts.truth, one, other)
    return both(one, other) if parts.kind == all_of else either(one, other)
