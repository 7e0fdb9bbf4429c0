"""Comparisons of two variables held against each other: what one says of another, without a number in either.

Adding a greater number gives no less: `x + c <= x + d` for c <= d, in doubles too, for rounding keeps order. So
`y > x + d` says `y > x + c`, and no `y < x + c` stands with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from rungproof.logic.steps.node import ON, Node, both, either, inverse
from rungproof.logic.steps.operators import Scalar


@dataclass
class Order:
    """The comparisons placed so far: `known[a, b]` is on where a < b."""

    known: dict[tuple[Node, Node], Node] = field(default_factory=dict)

    def placed(self, a: Node, b: Node, less: Node) -> Node:
        """`less` as a < b, made to agree with all that is known."""
        weaker = ON
        for (x, y), other in self.known.items():
            if at_most(x, a) and at_most(b, y):
                weaker = both(weaker, other)  # x <= a < b <= y
            if at_most(b, x) and at_most(y, a):
                weaker = both(weaker, inverse(other))  # x < y would be b <= x < y <= a
        stronger = [other for (x, y), other in self.known.items() if at_most(a, x) and at_most(y, b)]
        self.known[a, b] = either(*stronger, both(weaker, less))
        return self.known[a, b]


def at_most(a: Node, b: Node) -> bool:
    """Whether a <= b whatever the variables are: the same, or the same one with no less added to it."""
    return any(base is other and distance <= further for base, distance in _from(a) for other, further in _from(b))


def _from(node: Node) -> Iterator[tuple[Node, Scalar]]:
    """A number as another one with something added."""
    yield node, 0
    if node.operator in ("add", "sub") and node.operands[1].operator == "constant":
        distance = node.operands[1].value
        yield node.operands[0], distance if node.operator == "add" else -distance
    elif node.operator == "add" and node.operands[0].operator == "constant":
        yield node.operands[1], node.operands[0].value
