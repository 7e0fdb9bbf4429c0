"""Tighter bounds than the typed tree has: what holds where a condition holds.

The bounds in the tree hold always. These hold only while a path conducts or an arm of a
`select` is taken: `count < 100` above `=> count := count + 1` keeps it from 101.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from rungproof.logic.meaning import ranges
from rungproof.logic.meaning.expressions import arithmetic_bounds
from rungproof.logic.meaning.findings.formula import Operator
from rungproof.logic.meaning.ranges import Bounds, Number
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Binary,
    Comparison,
    Convert,
    Expression,
    Filter,
    Function,
    Inverse,
    Ramp,
    Rate,
    Scale,
    Table,
    TagValue,
    ToReal,
)

Known = Mapping[str, Bounds]

_OPPOSITE: dict[Operator, Operator] = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>", "<>": "="}
_MIRRORED: dict[Operator, Operator] = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "=": "=", "<>": "<>"}


def narrowed(condition: Expression, known: Known, truth: bool = True) -> dict[str, Bounds]:
    """What is known of the tags' values where `condition` is (or is not) true."""
    result = dict(known)
    match condition:
        case Inverse():
            return narrowed(condition.operand, known, not truth)
        case AllOf() if truth:
            for operand in condition.operands:
                result = narrowed(operand, result)
        case AnyOf() if not truth:
            for operand in condition.operands:
                result = narrowed(operand, result, False)
        case Comparison() if condition.left.type != "bool":
            operator = condition.operator if truth else _OPPOSITE[condition.operator]
            _bound(condition.left, operator, condition.right, result)
            _bound(condition.right, _MIRRORED[operator], condition.left, result)
        case _:
            pass
    return result


def _bound(node: Expression, operator: Operator, other: Expression, known: dict[str, Bounds]) -> None:
    node = node.operand if isinstance(node, ToReal) else node
    if not isinstance(node, TagValue):
        return
    low, high = known.get(node.tag, (node.low, node.high))
    least, most = Bounded(known).of(other)
    whole = node.type == "int"
    match operator:
        case "<":
            high = min(high, _below(most, whole))
        case "<=":
            high = min(high, most)
        case ">":
            low = max(low, _above(least, whole))
        case ">=":
            low = max(low, least)
        case "=":
            low, high = max(low, least), min(high, most)
        case "<>" if least == most:
            low = _above(low, whole) if low == least else low
            high = _below(high, whole) if high == least else high
        case _:
            pass
    if low <= high:
        known[node.tag] = (low, high)


def _below(limit: Number, whole: bool) -> Number:
    return math.ceil(limit) - 1 if whole else math.nextafter(limit, -math.inf)


def _above(limit: Number, whole: bool) -> Number:
    return math.floor(limit) + 1 if whole else math.nextafter(limit, math.inf)


@dataclass
class Bounded:
    """Works bounds out anew from what is known of the tags.

    `zero_divisors` collects the divisions whose divisor can be 0.
    """

    known: Known
    zero_divisors: list[Binary] = field(default_factory=list)

    def of(self, node: Expression) -> Bounds:
        match node:
            case TagValue():
                return self.known.get(node.tag, (node.low, node.high))
            case ToReal():
                low, high = self.of(node.operand)
                return float(low), float(high)
            case Convert():
                return ranges.converted(self.of(node.operand), node.numerator, node.denominator, node.type)
            case Binary():
                return self._binary(node)
            case Function():
                return self._function(node)
            case Scale():
                ends = node.from_low, node.from_high, node.to_low, node.to_high
                return ranges.scaled(self.of(node.operand), *ends)
            case Table():
                return ranges.looked_up(self.of(node.operand), node.points)
            case Filter() | Rate() | Ramp():
                # What they follow may have been elsewhere when they last looked.
                Bounded({}, self.zero_divisors).of(node.operand)
                return node.low, node.high
            case _:
                return node.low, node.high

    def _binary(self, node: Binary) -> Bounds:
        left, right = self.of(node.left), self.of(node.right)
        if node.operator == "/" and right[0] <= 0 <= right[1]:
            self.zero_divisors.append(node)
        return arithmetic_bounds(node.operator, node.left, node.right, left, right)

    def _function(self, node: Function) -> Bounds:
        if node.name == "select":
            condition, then, otherwise = node.arguments
            return ranges.hull(
                [
                    Bounded(narrowed(condition, self.known), self.zero_divisors).of(then),
                    Bounded(narrowed(condition, self.known, False), self.zero_divisors).of(otherwise),
                ]
            )
        inside = [self.of(argument) for argument in node.arguments]
        match node.name:
            case "neg":
                return ranges.negate(inside[0])
            case "abs":
                return ranges.absolute(inside[0])
            case "sqrt":
                return ranges.root(inside[0])
            case "round" | "trunc":
                return ranges.rounded(inside[0], node.name)
            case "min":
                return ranges.smaller(inside)
            case _:
                return ranges.larger(inside)
