"""The least and the greatest value that each numeric node of a Step can have.

End points are worked out by the operators' own plain functions. They are correctly rounded
and hence monotone, so the bounds hold for the doubles themselves, not for reals.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from itertools import product

from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import INT_LIMIT, OPERATORS, REAL_LIMIT, assert_exhaustive
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

Interval = tuple[float | int, float | int]
EVERYTHING: Interval = (-math.inf, math.inf)


def extreme(node: Node) -> tuple[str, Node, Node] | None:
    """(`min` or `max`, a, b) where a select is the lesser or the greater of two; None elsewhere."""
    if node.operator != "select" or node.operands[0].operator != "lt":
        return None
    (x, y), then, otherwise = node.operands[0].operands, node.operands[1], node.operands[2]
    if then is x and otherwise is y:
        return "min", x, y
    if then is y and otherwise is x:
        return "max", x, y
    return None


def intervals_of(nodes: Iterable[Node], variables: Mapping[str, Interval]) -> dict[Node, Interval]:
    """The interval of every numeric node that `nodes` need."""
    found: dict[Node, Interval] = {}
    for node in ordered(nodes):
        if node.type == "bool":
            continue
        if node.operator == "constant":
            found[node] = (node.value, node.value)
        elif node.operator == "variable":
            found[node] = variables[node.name]
        else:
            found[node] = _RULES[node.operator](node, found)
    return found


def ranges(step: Step) -> dict[str, Interval]:
    """The ranges of a Step's variables: those declared, but for states whose next value may lie
    outside, which can be anything."""
    variables: list[StateVariable | InputVariable] = [*step.states.values(), *step.inputs.values()]
    known = {each.name: _declared(each) for each in variables}
    while True:
        found = intervals_of(step.next.values(), known)
        broken = [
            s.name for s in step.states.values() if known[s.name] != EVERYTHING and not _stays(step, s, known, found)
        ]
        if not broken:
            return known
        known |= dict.fromkeys(broken, EVERYTHING)


def _declared(each: StateVariable | InputVariable) -> Interval:
    return (float(each.low), float(each.high)) if each.type == "real" else (each.low, each.high)


def _stays(step: Step, state: StateVariable, known: Mapping[str, Interval], found: Mapping[Node, Interval]) -> bool:
    """Whether a state's declared range holds at its start and after any step from within the known ranges."""
    if state.type == "bool":
        return True
    low, high = known[state.name]
    least, most = found[step.next[state.name]] if state.name in step.next else (low, high)
    return low <= least and most <= high and low <= state.start <= high


def _hull(values: Iterable[float | int]) -> Interval:
    listed = list(values)
    return EVERYTHING if any(math.isnan(v) for v in listed) else (min(listed), max(listed))


def _corners(node: Node, found: Mapping[Node, Interval]) -> Interval:
    """For what is monotone in each operand: the hull of the corners."""
    ends = [found[each] if each.type != "bool" else (False, True) for each in node.operands]
    return _hull(OPERATORS[node.operator].plain(*corner) for corner in product(*ends))


def _infinite(node: Node, found: Mapping[Node, Interval]) -> bool:
    return any(math.inf in map(abs, found[each]) for each in node.operands if each.type != "bool")


def _bounded(node: Node, found: Mapping[Node, Interval]) -> Interval:
    return EVERYTHING if _infinite(node, found) else _corners(node, found)


def _quotient(node: Node, found: Mapping[Node, Interval]) -> Interval:
    """Quotients leave the corners where the divisor passes 0."""
    low, high = found[node.operands[1]]
    if _infinite(node, found) or low <= 0 <= high:
        limit = INT_LIMIT if node.operator == "div" else REAL_LIMIT
        top = max(map(abs, found[node.operands[0]])) if node.operator == "div" else limit
        return -max(limit, top), max(limit, top)
    return _corners(node, found)


def _magnitude(node: Node, found: Mapping[Node, Interval]) -> Interval:
    low, high = found[node.operands[0]]
    least = 0 if low <= 0 <= high else min(abs(low), abs(high))
    return least, max(abs(low), abs(high))


def _choice(node: Node, found: Mapping[Node, Interval]) -> Interval:
    (low_a, high_a), (low_b, high_b) = (found[each] for each in node.operands[1:])
    one = extreme(node)
    if one is not None:
        pick: Callable[..., float | int] = min if one[0] == "min" else max
        return pick(low_a, low_b), pick(high_a, high_b)
    return min(low_a, low_b), max(high_a, high_b)


_RULES: dict[str, Callable[[Node, Mapping[Node, Interval]], Interval]] = {
    **dict.fromkeys(("add", "sub", "mul", "quotient", "neg", "sqrt", "round", "trunc", "real"), _bounded),
    **dict.fromkeys(("divide", "div"), _quotient),
    "abs": _magnitude,
    "select": _choice,
}
assert_exhaustive("intervals", [*_RULES, "and", "or", "not", "lt", "le", "eq"])
