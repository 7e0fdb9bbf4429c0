"""The number an expression gives for known tags, where it depends on nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from rungproof.logic.meaning.typed import (
    Binary,
    Constant,
    Convert,
    Expression,
    Filter,
    Function,
    Ramp,
    Scalar,
    Scale,
    Table,
    TagValue,
    ToReal,
)
from rungproof.plant.operators import PLAIN


class NotKnownError(Exception):
    """Raised where an expression depends on something else, or on the past."""


def evaluate(node: Expression, known: Mapping[str, Scalar]) -> float:
    """The value at rest: `filter` and `ramp` have arrived at their input. Good to a few roundings.

    Raises `NotKnownError`.
    """
    match node:
        case Constant(value=value):
            return float(value)
        case TagValue(tag=tag):
            if tag not in known:
                raise NotKnownError(tag)
            return float(known[tag])
        case ToReal(operand=operand) | Filter(operand=operand) | Ramp(operand=operand):
            return evaluate(operand, known)
        case Convert(operand=operand, numerator=numerator, denominator=denominator):
            return evaluate(operand, known) * numerator / denominator
        case Binary():
            return _binary(node, known)
        case Scale():
            x = evaluate(node.operand, known)
            return node.to_low + (x - node.from_low) * (node.to_high - node.to_low) / (node.from_high - node.from_low)
        case Table(operand=operand, points=points):
            return _table(evaluate(operand, known), points)
        case Function():
            return _function(node, known)
        case _:
            raise NotKnownError(type(node).__name__)


def _binary(node: Binary, known: Mapping[str, Scalar]) -> float:
    left, right = evaluate(node.left, known), evaluate(node.right, known)
    match node.operator:
        case "+":
            return left + right
        case "-":
            return left - right
        case "*":
            return left * right
        case _:
            quotient = float(PLAIN.divide(left, right))
            return float(int(quotient)) if node.type == "int" else quotient


def _table(x: float, points: tuple[tuple[float, float], ...]) -> float:
    pieces = list(pairwise(points))
    (x0, y0), (x1, y1) = next((piece for piece in reversed(pieces) if piece[0][0] <= x), pieces[0])
    return y0 + (x - x0) * (y1 - y0) / (x1 - x0)


def _function(node: Function, known: Mapping[str, Scalar]) -> float:
    if node.name == "select":
        raise NotKnownError("select")
    values = [evaluate(argument, known) for argument in node.arguments]
    match node.name:
        case "neg":
            return -values[0]
        case "abs":
            return abs(values[0])
        case "sqrt":
            return float(PLAIN.sqrt(values[0]))
        case "round":
            return float(round(values[0]))
        case "trunc":
            return float(int(values[0]))
        case "min":
            return min(values)
        case _:
            return max(values)
