"""Every place of a rung at which a change could be made, each with the rung that the change would give."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from rungproof.grammar import tree

_PARTS = ("operand", "operands", "inner", "left", "right", "value", "low", "high", "arguments")


@dataclass(frozen=True, slots=True)
class Spot:
    """A part of an expression. `within`: what it stands in, outermost first. `put` gives the rung with another one."""

    rung: tree.Rung
    span: tree.Span
    node: Any
    within: tuple[Any, ...]
    put: Callable[[Any], tree.Rung]

    @property
    def bare(self) -> bool:
        """Whether it is a contact as it stands: under no `not` and no edge."""
        return not any(isinstance(each, tree.Not | tree.Edge | tree.Compare | tree.Call) for each in self.within)


def spots(rung: tree.Rung) -> Iterator[Spot]:
    """Every part of every condition, `when` and value of a rung, from the top."""
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Condition):
            for node, within, put in _inside(element.expression):
                yield Spot(rung, element.span, node, within, _element(rung, place, put))
    for place, output in enumerate(rung.outputs):
        for name in ("when", "value"):
            expression = getattr(output, name)
            if expression is not None:
                for node, within, put in _inside(expression):
                    yield Spot(rung, output.span, node, within, _output(rung, place, name, put))


def _element(rung: tree.Rung, place: int, put: Callable[[Any], Any]) -> Callable[[Any], tree.Rung]:
    def build(new: Any) -> tree.Rung:
        changed = replace(rung.elements[place], expression=put(new))
        return with_element(rung, place, changed)

    return build


def _output(rung: tree.Rung, place: int, name: str, put: Callable[[Any], Any]) -> Callable[[Any], tree.Rung]:
    def build(new: Any) -> tree.Rung:
        return with_output(rung, place, replace(rung.outputs[place], **{name: put(new)}))

    return build


def _inside(node: Any, within: tuple[Any, ...] = ()) -> Iterator[tuple[Any, tuple[Any, ...], Callable[[Any], Any]]]:
    yield node, within, lambda new: new
    for name in _PARTS:
        part = getattr(node, name, None)
        if isinstance(part, tuple):
            for place, each in enumerate(part):
                for inner, path, put in _inside(each, (*within, node)):
                    yield inner, path, _into(node, name, place, put)
        elif isinstance(part, tree.Node):
            for inner, path, put in _inside(part, (*within, node)):
                yield inner, path, _into(node, name, None, put)


def _into(node: Any, name: str, place: int | None, put: Callable[[Any], Any]) -> Callable[[Any], Any]:
    def build(new: Any) -> Any:
        if place is None:
            return replace(node, **{name: put(new)})
        parts = getattr(node, name)
        return replace(node, **{name: (*parts[:place], put(new), *parts[place + 1 :])})

    return build


# ----------------------------------------------------------------- whole lines


def with_element(rung: tree.Rung, place: int, *new: tree.Condition | tree.Stage) -> tree.Rung:
    """The rung with the element at `place` replaced by `new` (none: it is left out)."""
    return replace(rung, elements=(*rung.elements[:place], *new, *rung.elements[place + 1 :]))


def with_output(rung: tree.Rung, place: int, *new: tree.Output) -> tree.Rung:
    return replace(rung, outputs=(*rung.outputs[:place], *new, *rung.outputs[place + 1 :]))


def in_series(rung: tree.Rung, expression: tree.Expression) -> tree.Rung:
    """The rung with one more condition at the end of its path."""
    return replace(rung, elements=(*rung.elements, tree.Condition(rung.span, expression)))


def name(text: str, span: tree.Span) -> tree.Name:
    return tree.Name(span, text)


def either(a: tree.Expression, b: tree.Expression) -> tree.Expression:
    operands = (*a.operands, b) if isinstance(a, tree.Parallel) else (_grouped(a), b)
    return tree.Parallel(a.span, operands)


def _grouped(node: tree.Expression) -> tree.Expression:
    return tree.Group(node.span, node) if isinstance(node, tree.Parallel) else node


def targets(rung: tree.Rung, *kinds: str) -> list[str]:
    return [output.target.text for output in rung.outputs if not kinds or output.kind in kinds]
