"""Tracing: numbers that stand for expressions, given to a part's `step` so that it lowers.

A part's arithmetic is Python text over `+ - * < <= > >=` and `ops`. Called with symbols it
builds the nodes of what it computes. A symbol refuses to become a truth or a number, so a
part that branches on a value raises `NotSymbolicError` instead of lowering to half of itself.
"""

from __future__ import annotations

from typing import Any, NoReturn

from rungproof.logic.steps.node import Node, apply, constant, inverse, least, most, select


class NotSymbolicError(TypeError):
    """Raised where a part treats a value as a plain number: by `if`, `float()`, `==`, `math`."""


class Symbol:
    """A value while a part is traced; wraps the node that computes it."""

    __slots__ = ("node",)

    def __init__(self, node: Node) -> None:
        self.node = node

    def _refuse(self, *_: object) -> NoReturn:
        raise NotSymbolicError("a part must compute through `ops`: use ops.select, ops.both, ops.same, ops.real")

    __bool__ = __float__ = __int__ = __index__ = __round__ = __trunc__ = _refuse
    __eq__ = __ne__ = _refuse
    __hash__ = _refuse
    __truediv__ = __rtruediv__ = __floordiv__ = __mod__ = __pow__ = _refuse

    def __add__(self, other: Any) -> Symbol:
        return _arithmetic("add", self, other)

    def __radd__(self, other: Any) -> Symbol:
        return _arithmetic("add", other, self)

    def __sub__(self, other: Any) -> Symbol:
        return _arithmetic("sub", self, other)

    def __rsub__(self, other: Any) -> Symbol:
        return _arithmetic("sub", other, self)

    def __mul__(self, other: Any) -> Symbol:
        return _arithmetic("mul", self, other)

    def __rmul__(self, other: Any) -> Symbol:
        return _arithmetic("mul", other, self)

    def __neg__(self) -> Symbol:
        return Symbol(apply("neg", self.node))

    def __abs__(self) -> Symbol:
        return Symbol(apply("abs", self.node))

    def __lt__(self, other: Any) -> Symbol:
        return _arithmetic("lt", self, other)

    def __le__(self, other: Any) -> Symbol:
        return _arithmetic("le", self, other)

    def __gt__(self, other: Any) -> Symbol:
        return _arithmetic("lt", other, self)

    def __ge__(self, other: Any) -> Symbol:
        return _arithmetic("le", other, self)


def node_of(value: Any) -> Node:
    """The node of a symbol, or of a plain number or truth."""
    return value.node if isinstance(value, Symbol) else constant(value)


def _matched(a: Any, b: Any) -> tuple[Node, Node]:
    """Two operands of one type: an int beside a real becomes a real, as Python would have it."""
    left, right = node_of(a), node_of(b)
    if left.type == "int" and right.type == "real":
        left = apply("real", left)
    elif left.type == "real" and right.type == "int":
        right = apply("real", right)
    return left, right


def _arithmetic(operator: str, a: Any, b: Any) -> Symbol:
    return Symbol(apply(operator, *_matched(a, b)))


class SymbolicOps:
    """`rungproof.plant.operators.Ops` over symbols; plain numbers count as constants."""

    def select(self, condition: Any, then: Any, otherwise: Any) -> Symbol:
        return Symbol(select(node_of(condition), *_matched(then, otherwise)))

    def min(self, a: Any, b: Any) -> Symbol:
        return Symbol(least(*_matched(a, b)))

    def max(self, a: Any, b: Any) -> Symbol:
        return Symbol(most(*_matched(a, b)))

    def abs(self, a: Any) -> Symbol:
        return Symbol(apply("abs", node_of(a)))

    def sqrt(self, a: Any) -> Symbol:
        return Symbol(apply("sqrt", self.real(a).node))

    def divide(self, a: Any, b: Any) -> Symbol:
        return Symbol(apply("divide", self.real(a).node, self.real(b).node))

    def both(self, a: Any, b: Any) -> Symbol:
        return Symbol(apply("and", node_of(a), node_of(b)))

    def either(self, a: Any, b: Any) -> Symbol:
        return Symbol(apply("or", node_of(a), node_of(b)))

    def inverse(self, a: Any) -> Symbol:
        return Symbol(inverse(node_of(a)))

    def same(self, a: Any, b: Any) -> Symbol:
        return Symbol(apply("eq", node_of(a), node_of(b)))

    def real(self, a: Any) -> Symbol:
        node = node_of(a)
        return Symbol(node if node.type == "real" else apply("real", node))
