"""Builds the expressions of `expression.lark`: one method per rule, named after the tree class."""

from __future__ import annotations

from typing import Literal, cast

from lark import Token, Transformer
from rungproof.grammar import tree
from rungproof.grammar.building import Part, Place, number_of


class ExpressionBuilder(Transformer[Token, Part]):
    """Each method gets its rule's tokens and nodes in the order written."""

    def __init__(self, place: Place) -> None:
        super().__init__(visit_tokens=False)
        self.place = place

    def parallel(self, parts: list[Part]) -> tree.Parallel:
        return tree.Parallel(self.place.span(parts[0], parts[-1]), tuple(parts[::2]))

    def series(self, parts: list[Part]) -> tree.Series:
        return tree.Series(self.place.span(parts[0], parts[-1]), tuple(parts[::2]))

    def not_(self, parts: list[Part]) -> tree.Not:
        return tree.Not(self.place.span(parts[0], parts[1]), parts[1])

    def edge(self, parts: list[Part]) -> tree.Edge:
        kind = cast("Literal['rising', 'falling']", str(parts[0]))
        return tree.Edge(self.place.span(parts[0], parts[1]), kind, parts[1])

    def compare(self, parts: list[Part]) -> tree.Compare:
        left, operator, right = parts
        written = cast("Literal['<', '<=', '>', '>=', '=', '<>']", str(operator))
        return tree.Compare(self.place.span(left, right), written, left, right)

    def between(self, parts: list[Part]) -> tree.Between:
        value, _between, low, _and, high = parts
        return tree.Between(self.place.span(value, high), value, low, high)

    def addition(self, parts: list[Part]) -> tree.Arithmetic:
        left, operator, right = parts
        written = cast("Literal['+', '-', '*', '/']", str(operator))
        return tree.Arithmetic(self.place.span(left, right), written, left, right)

    multiplication = addition

    def negate(self, parts: list[Part]) -> tree.Negate:
        return tree.Negate(self.place.span(parts[0], parts[1]), parts[1])

    negative = negate

    def number(self, parts: list[Part]) -> tree.Number:
        return number_of(self.place, parts[0])

    def truth(self, parts: list[Part]) -> tree.Truth:
        return tree.Truth(self.place.span(parts[0], parts[0]), parts[0] == "on")

    def name(self, parts: list[Part]) -> tree.Name:
        return tree.Name(self.place.span(parts[0], parts[0]), str(parts[0]))

    def group(self, parts: list[Part]) -> tree.Group:
        return tree.Group(self.place.span(parts[0], parts[2]), parts[1])

    def interval(self, parts: list[Part]) -> tree.Interval:
        return tree.Interval(self.place.span(parts[0], parts[2]), parts[0], parts[2])

    span = interval

    def point(self, parts: list[Part]) -> tree.Point:
        return tree.Point(self.place.span(parts[0], parts[2]), parts[0], parts[2])

    def argument(self, parts: list[Part]) -> tree.Argument:
        value = parts[-1]
        keyword = "starts from" if len(parts) > 1 else None
        return tree.Argument(self.place.span(parts[0], value), value, keyword)

    def call(self, parts: list[Part]) -> tree.Call:
        function = str(parts[0])
        written = [part for part in parts if isinstance(part, tree.Argument)]
        arguments = tuple(argument if function == "select" else _with_keyword(argument) for argument in written)
        name = str(parts[-1]) if parts[-1].type.endswith("WORD") else None
        return tree.Call(self.place.span(parts[0], parts[-1]), function, arguments, name)


def _with_keyword(argument: tree.Argument) -> tree.Argument:
    """`gain = 2 V/L` reads as a comparison; in every call but `select` it names an argument."""
    value = argument.value
    if isinstance(value, tree.Compare) and value.operator == "=" and isinstance(value.left, tree.Name):
        return tree.Argument(argument.span, value.right, value.left.text)
    return argument
