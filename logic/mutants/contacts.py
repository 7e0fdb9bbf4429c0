"""Walking the contacts of a path, and putting one of them in another's place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from rungproof.grammar import tree
from rungproof.grammar.tree import Expression

#: What a node may be replaced by.
Alternatives = Callable[[Expression], Iterator[Expression]]


@dataclass(frozen=True, slots=True)
class Rewrite:
    """`old` became `new`, which makes the whole expression `whole`."""

    old: Expression
    new: Expression
    whole: Expression


def contact_rewrites(expression: Expression, alternatives: Alternatives) -> Iterator[Rewrite]:
    """Every way to put an alternative in the place of one contact or of contacts that stand together.

    A negated contact and an edge are one contact each: the name in them is not offered by itself.
    """
    for new in alternatives(expression):
        yield Rewrite(expression, new, new)
    match expression:
        case tree.Group():
            for inner in contact_rewrites(expression.inner, alternatives):
                yield replace(inner, whole=replace(expression, inner=inner.whole))
        case tree.Series() | tree.Parallel():
            for place, operand in enumerate(expression.operands):
                for inner in contact_rewrites(operand, alternatives):
                    operands = with_one(expression.operands, place, inner.whole)
                    yield replace(inner, whole=replace(expression, operands=operands))
        case tree.Call(function="select"):
            yield from _first_argument(expression, alternatives)


def _first_argument(call: tree.Call, alternatives: Alternatives) -> Iterator[Rewrite]:
    """The condition of a `select` is a path like any other."""
    if not call.arguments or isinstance(call.arguments[0].value, tree.Interval | tree.Point):
        return
    first = call.arguments[0]
    for inner in contact_rewrites(call.arguments[0].value, alternatives):
        arguments = (replace(first, value=inner.whole), *call.arguments[1:])
        yield replace(inner, whole=replace(call, arguments=arguments))


def number_rewrites(expression: Expression, alternatives: Alternatives) -> Iterator[Rewrite]:
    """The same for every node of a right side: names, comparisons and calls wherever they stand."""
    for new in alternatives(expression):
        yield Rewrite(expression, new, new)
    for child, rebuild in _children(expression):
        for inner in number_rewrites(child, alternatives):
            yield replace(inner, whole=rebuild(inner.whole))


def _children(expression: Expression) -> Iterator[tuple[Expression, Callable[[Expression], Expression]]]:
    match expression:
        case tree.Group():
            yield expression.inner, lambda new: replace(expression, inner=new)
        case tree.Not() | tree.Edge() | tree.Negate():
            yield expression.operand, lambda new: replace(expression, operand=new)
        case tree.Compare() | tree.Arithmetic():
            yield expression.left, lambda new: replace(expression, left=new)
            yield expression.right, lambda new: replace(expression, right=new)
        case tree.Between():
            yield expression.value, lambda new: replace(expression, value=new)
            yield expression.low, lambda new: replace(expression, low=new)
            yield expression.high, lambda new: replace(expression, high=new)
        case tree.Series() | tree.Parallel():
            for place, operand in enumerate(expression.operands):
                yield operand, _operand_setter(expression, place)
        case tree.Call():
            for place, argument in enumerate(expression.arguments):
                if not isinstance(argument.value, tree.Interval | tree.Point):
                    yield argument.value, _argument_setter(expression, place)
        case _:
            pass


def _operand_setter(node: tree.Series | tree.Parallel, place: int) -> Callable[[Expression], Expression]:
    return lambda new: replace(node, operands=with_one(node.operands, place, new))


def _argument_setter(call: tree.Call, place: int) -> Callable[[Expression], Expression]:
    argument = call.arguments[place]
    return lambda new: replace(call, arguments=with_one(call.arguments, place, replace(argument, value=new)))


T = TypeVar("T")


def with_one(items: tuple[T, ...], place: int, new: T) -> tuple[T, ...]:
    """`items` with `new` at `place`."""
    return (*items[:place], new, *items[place + 1 :])


def without(items: tuple[T, ...], place: int) -> tuple[T, ...]:
    """`items` but the one at `place`."""
    return items[:place] + items[place + 1 :]


def bare(expression: Expression) -> Expression:
    """Without the parentheses round all of it."""
    while isinstance(expression, tree.Group):
        expression = expression.inner
    return expression


def in_parallel(expression: Expression) -> Expression:
    """As a branch among others: parentheses where something stands in series or in parallel."""
    return (
        tree.Group(expression.span, expression) if isinstance(expression, tree.Series | tree.Parallel) else expression
    )


def series(*parts: Expression) -> Expression:
    """One after another on one line; what stands in parallel gets its parentheses."""
    operands: list[Expression] = []
    for part in parts:
        inner = bare(part)
        if isinstance(inner, tree.Series):
            operands += inner.operands
        elif isinstance(inner, tree.Parallel):
            operands.append(tree.Group(part.span, inner))
        else:
            operands.append(inner)
    return tree.Series(parts[0].span, tuple(operands))
