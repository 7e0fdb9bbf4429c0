"""Operators of which one number varies: which way the result goes with it, and at which value it crosses a place.

By the operators' own plain functions, so exact for doubles and whole numbers as the reference engine has them.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

from rungproof.logic.proofs.bits import above
from rungproof.logic.steps.intervals import Interval
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import OPERATORS, Scalar


def of_one(node: Node, operand: Node) -> Callable[[Scalar], Scalar]:
    """The node's plain function with every operand but one fixed."""
    plain = OPERATORS[node.operator].plain
    fixed = [None if each is operand else each.value for each in node.operands]
    return lambda x: plain(*(x if each is None else each for each in fixed))


def direction(node: Node, operand: Node, span: Interval) -> int:
    """1 where the node never falls as `operand` rises, -1 where it never rises, 0 where neither is known."""
    operator = node.operator
    if operator in ("sqrt", "round", "trunc", "real"):
        return 1
    if operator == "neg":
        return -1
    if len(node.operands) != 2 or node.operands[0] is node.operands[1]:
        return 0
    is_left = node.operands[0] is operand
    other = node.operands[1 if is_left else 0]
    if other.operator != "constant":
        return 0
    sign = 1 if other.value > 0 else -1 if other.value < 0 else 0
    if operator == "add":
        return 1
    if operator == "sub":
        return 1 if is_left else -1
    if operator == "mul":
        return sign
    if operator in ("quotient", "divide", "div") and is_left:
        return sign
    if operator in ("divide", "div") and not span[0] <= 0 <= span[1]:
        return -sign
    return 0


def first_value(type_: str, low: float | int, high: float | int, reached: Callable[[Scalar], bool]) -> float | int:
    """The least value of low..high at which `reached` holds; one above `high` if none. It never ceases to."""
    if not reached(high):
        return above(int(high) if type_ == "int" else float(high))
    if type_ == "int":
        bottom, top = int(low), int(high)
        while bottom < top:
            middle = (bottom + top) // 2
            bottom, top = (bottom, middle) if reached(middle) else (middle + 1, top)
        return top
    return _first_real(float(low), float(high), reached)


def _first_real(low: float, high: float, reached: Callable[[Scalar], bool]) -> float:
    """Bisection over doubles in their own order, which is that of their bits."""
    bottom, top = _rank(low), _rank(high)
    while bottom < top:
        middle = (bottom + top) // 2
        bottom, top = (bottom, middle) if reached(_ranked(middle)) else (middle + 1, top)
    return _ranked(top)


def _rank(value: float) -> int:
    bits = int(struct.unpack("<q", struct.pack("<d", value))[0])
    return bits if bits >= 0 else -(bits & 0x7FFF_FFFF_FFFF_FFFF)


def _ranked(rank: int) -> float:
    bits = rank if rank >= 0 else -rank - 0x8000_0000_0000_0000
    return float(struct.unpack("<d", struct.pack("<q", bits))[0])
