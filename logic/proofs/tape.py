"""Many states at once: the nodes of a Step over numpy columns, each operator written here once more."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import INT_LIMIT, REAL_LIMIT, assert_exhaustive

Column = npt.NDArray[Any]

TYPES: dict[str, type[np.generic]] = {"bool": np.bool_, "int": np.int64, "real": np.float64}


class Tape:
    """What `roots` need, laid out in order once, to be worked out over any columns.

    Values of the nodes in `given` are handed in, and nothing below them is worked out.
    """

    def __init__(self, roots: Sequence[Node], given: Collection[Node] = ()) -> None:
        self.nodes = ordered(roots) if not given else _ordered_down_to(roots, set(given))
        self.given = tuple(node for node in self.nodes if node in set(given))
        self.places = {node: place for place, node in enumerate(self.nodes)}
        self.lines: list[tuple[int, Callable[..., Any], tuple[int, ...]]] = []
        self.fixed: list[Any] = [None] * len(self.nodes)
        self.variables: list[tuple[int, str]] = []
        for place, node in enumerate(self.nodes):
            if node in self.given:
                continue
            if node.operator == "constant":
                self.fixed[place] = TYPES[node.type](node.value)
            elif node.operator == "variable":
                self.variables.append((place, node.name))
            else:
                self.lines.append((place, _NUMPY[node.operator], tuple(self.places[each] for each in node.operands)))

    def run(self, values: Mapping[str, Column], given: Mapping[Node, Column] | None = None) -> list[Any]:
        """The column of each node, by `places`; a constant stays a single value."""
        found = list(self.fixed)
        for node in self.given:
            found[self.places[node]] = given[node] if given is not None else None
        for place, name in self.variables:
            found[place] = values[name]
        with np.errstate(all="ignore"):
            for place, rule, operands in self.lines:
                # By hand for the commonest: what is worked out is often less work than to put operands together.
                if len(operands) == 2:
                    found[place] = rule(found[operands[0]], found[operands[1]])
                elif len(operands) == 1:
                    found[place] = rule(found[operands[0]])
                else:
                    found[place] = rule(*[found[each] for each in operands])
        return found


def _ordered_down_to(roots: Sequence[Node], given: set[Node]) -> list[Node]:
    """`ordered`, without what lies below `given`."""
    order: list[Node] = []
    seen: set[Node] = set()
    stack = [(node, False) for node in reversed(roots)]
    while stack:
        node, ready = stack.pop()
        if ready:
            order.append(node)
        elif node not in seen:
            seen.add(node)
            stack.append((node, True))
            stack += [(each, False) for each in node.operands if node not in given]
    return order


def evaluate(roots: Sequence[Node], values: Mapping[str, Column]) -> dict[Node, Any]:
    """The column of each node that `roots` need."""
    tape = Tape(roots)
    return dict(zip(tape.nodes, tape.run(values), strict=True))


# -------------------------------------------------------------------- operators


def _divide(a: Any, b: Any) -> Any:
    nothing = b == 0
    quotient = np.asarray(a / np.where(nothing, 1.0, b))
    capped = np.where(quotient < REAL_LIMIT, quotient, REAL_LIMIT)
    capped = np.where(capped > -REAL_LIMIT, capped, -REAL_LIMIT)
    return np.where(nothing, np.where(a > 0, REAL_LIMIT, np.where(a < 0, -REAL_LIMIT, 0.0)), capped)


def _div(a: Any, b: Any) -> Any:
    nothing = b == 0
    size = np.abs(a) // np.abs(np.where(nothing, 1, b))
    quotient = np.where((a < 0) == (b < 0), size, -size)
    return np.where(nothing, np.where(a > 0, INT_LIMIT, np.where(a < 0, -INT_LIMIT, 0)), quotient)


def _root(a: Any) -> Any:
    return np.where(a >= 0, np.sqrt(np.where(a >= 0, a, 0.0)), 0.0)


_NUMPY: dict[str, Callable[..., Any]] = {
    "and": np.logical_and,
    "or": np.logical_or,
    "not": np.logical_not,
    "add": np.add,
    "sub": np.subtract,
    "mul": np.multiply,
    "quotient": np.divide,
    "divide": _divide,
    "div": _div,
    "neg": np.negative,
    "abs": np.abs,
    "sqrt": _root,
    "round": lambda a: np.rint(a).astype(np.int64),
    "trunc": lambda a: np.trunc(a).astype(np.int64),
    "real": lambda a: np.asarray(a).astype(np.float64),
    "lt": np.less,
    "le": np.less_equal,
    "eq": np.equal,
    "select": np.where,
}
assert_exhaustive("the columns", _NUMPY)
