"""Between which bounds each node of a Step lies: interval arithmetic in the operators' own rounding.

Every operator here is monotone in each operand and correctly rounded, so the value at the
ends of intervals, computed by the operator's plain meaning, bounds every value between.
A bound that is not known is infinite.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from itertools import product

from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import INT_LIMIT, OPERATORS, REAL_LIMIT, assert_exhaustive
from rungproof.logic.steps.step import Step

Number = int | float
Interval = tuple[Number, Number]

ANY: Interval = (-math.inf, math.inf)
EITHER: Interval = (0, 1)


def is_finite(interval: Interval) -> bool:
    return interval[0] > -math.inf and interval[1] < math.inf


def intervals(nodes: Iterable[Node], variables: Mapping[str, Interval]) -> dict[Node, Interval]:
    """The interval of each of `nodes` and of all that they need; a variable not named may be anything."""
    found: dict[Node, Interval] = {}
    for node in ordered(nodes):
        if node.operator == "constant":
            found[node] = (node.value, node.value)
        elif node.operator == "variable":
            found[node] = EITHER if node.type == "bool" else variables.get(node.name, ANY)
        else:
            found[node] = _RULES[node.operator](node, [found[each] for each in node.operands])
    return found


def shown_ranges(step: Step) -> dict[str, Interval]:
    """The ranges of the inputs, and those declared ranges of states that one step provably keeps.

    A declared range is taken for nothing: it must hold of the start value, and of what the
    variable becomes while all ranges that are still believed hold.
    """
    given: dict[str, Interval] = {each.name: (each.low, each.high) for each in step.inputs.values()}
    believed: dict[str, Interval] = {
        each.name: (each.low, each.high)
        for each in step.states.values()
        if each.type == "bool" or each.low <= each.start <= each.high
    }
    while True:
        found = intervals(step.next.values(), {**given, **believed})
        broken = [
            name for name in believed if name in step.next and not _inside(found[step.next[name]], believed[name])
        ]
        if not broken:
            return {**given, **believed}
        for name in broken:
            del believed[name]


def _inside(inner: Interval, outer: Interval) -> bool:
    return outer[0] <= inner[0] and inner[1] <= outer[1]


def _hull(values: Iterable[Number]) -> Interval:
    known = list(values)
    if any(isinstance(each, float) and math.isnan(each) for each in known):
        return ANY
    return min(known), max(known)


def _corners(node: Node, operands: list[Interval]) -> Interval:
    """All ends against all ends, by the operator's plain meaning."""
    plain = OPERATORS[node.operator].plain
    if not all(is_finite(each) for each in operands):
        return ANY
    try:
        return _hull(plain(*ends) for ends in product(*operands))
    except (OverflowError, ZeroDivisionError, ValueError):
        return ANY


def _ends(node: Node, operands: list[Interval]) -> Interval:
    """An increasing operator of one operand; infinite ends stay."""
    plain = OPERATORS[node.operator].plain
    try:
        low, high = (each if math.isinf(each) else plain(each) for each in operands[0])
    except OverflowError:
        return ANY
    return (max(low, 0), max(high, 0)) if node.operator == "sqrt" else (low, high)


def _negative(node: Node, operands: list[Interval]) -> Interval:
    return -operands[0][1], -operands[0][0]


def _distance(node: Node, operands: list[Interval]) -> Interval:
    low, high = operands[0]
    return (0 if low <= 0 <= high else min(abs(low), abs(high))), max(abs(low), abs(high))


def _guarded(node: Node, operands: list[Interval]) -> Interval:
    """`divide` and `div`: a divisor that may be 0 gives the limit."""
    low, high = operands[1]
    if low > 0 or high < 0:
        return _corners(node, operands)
    if node.operator == "divide":
        return (-REAL_LIMIT, REAL_LIMIT) if is_finite(operands[0]) else ANY
    most = max(abs(operands[0][0]), abs(operands[0][1]), INT_LIMIT)
    return -most, most


def _order(node: Node, operands: list[Interval]) -> Interval:
    (a, b), (c, d) = operands
    if node.operator == "lt":
        return (1 if b < c else 0), (0 if d <= a else 1)
    return (1 if b <= c else 0), (0 if d < a else 1)


def _same(node: Node, operands: list[Interval]) -> Interval:
    (a, b), (c, d) = operands
    return (1 if a == b == c == d else 0), (0 if b < c or d < a else 1)


def _select(node: Node, operands: list[Interval]) -> Interval:
    condition, then, otherwise = operands
    if condition == (1, 1):
        return then
    if condition == (0, 0):
        return otherwise
    test, first, second = node.operands
    if test.operator in ("lt", "le"):
        if test.operands == (first, second):
            return min(then[0], otherwise[0]), min(then[1], otherwise[1])
        if test.operands == (second, first):
            return max(then[0], otherwise[0]), max(then[1], otherwise[1])
    return min(then[0], otherwise[0]), max(then[1], otherwise[1])


def _sum(node: Node, operands: list[Interval]) -> Interval:
    (a, b), (c, d) = operands
    low, high = (a - d, b - c) if node.operator == "sub" else (a + c, b + d)
    return ANY if math.isnan(low) or math.isnan(high) else (low, high)


_RULES: dict[str, Callable[[Node, list[Interval]], Interval]] = {
    "and": lambda _, o: (min(o[0][0], o[1][0]), min(o[0][1], o[1][1])),
    "or": lambda _, o: (max(o[0][0], o[1][0]), max(o[0][1], o[1][1])),
    "not": lambda _, o: (1 - o[0][1], 1 - o[0][0]),
    "add": _sum,
    "sub": _sum,
    "mul": _corners,
    "quotient": _corners,
    "divide": _guarded,
    "div": _guarded,
    "neg": _negative,
    "abs": _distance,
    "sqrt": _ends,
    "round": _ends,
    "trunc": _ends,
    "real": _ends,
    "lt": _order,
    "le": _order,
    "eq": _same,
    "select": _select,
}
assert_exhaustive("the intervals", _RULES)
