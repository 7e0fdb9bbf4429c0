"""Mistakes in a path: contacts, lines and branches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from rungproof.grammar import tree
from rungproof.grammar.tree import Expression, Rung
from rungproof.grammar.unparse import to_text
from rungproof.logic.mutants.contacts import (
    Rewrite,
    bare,
    contact_rewrites,
    in_parallel,
    number_rewrites,
    series,
    with_one,
    without,
)
from rungproof.logic.mutants.mutant import Change, Kind


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a change may reach for: all tag lines by name, the rungs before and after, and whether it is wired.

    `scan` is the controller's shortest scan in ms. In a circuit contacts are devices, and
    `devices` are the contacts that its rungs name.
    """

    tags: dict[str, tree.TagLine] = field(default_factory=dict)
    neighbours: tuple[Rung, ...] = ()
    wired: bool = False
    scan: int = 1
    devices: tuple[str, ...] = ()


#: A site of a rung that holds an expression: the expression, and the rung with another one there.
Site = tuple[Expression, Callable[[Expression], Rung]]


def contact_sites(rung: Rung) -> Iterator[Site]:
    """Lines of the path, `when`s, and the `clear by` of stages: wherever a contact stands."""
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Condition):
            yield element.expression, _line_setter(rung, place)
    for place, output in enumerate(rung.outputs):
        if output.when is not None:
            yield output.when, _when_setter(rung, place)


def value_sites(rung: Rung) -> Iterator[Site]:
    """Right sides of `:=`."""
    for place, output in enumerate(rung.outputs):
        if output.value is not None:
            yield output.value, _value_setter(rung, place)


def _line_setter(rung: Rung, place: int) -> Callable[[Expression], Rung]:
    line = rung.elements[place]
    return lambda new: replace(rung, elements=with_one(rung.elements, place, tree.Condition(line.span, new)))


def _when_setter(rung: Rung, place: int) -> Callable[[Expression], Rung]:
    output = rung.outputs[place]
    return lambda new: replace(rung, outputs=with_one(rung.outputs, place, replace(output, when=new)))


def _value_setter(rung: Rung, place: int) -> Callable[[Expression], Rung]:
    output = rung.outputs[place]
    return lambda new: replace(rung, outputs=with_one(rung.outputs, place, replace(output, value=new)))


def _told(kind: Kind, rewrite: Rewrite, after: Rung) -> Change:
    return Change(kind, rewrite.old.span, f"`{to_text(rewrite.new)}` for `{to_text(rewrite.old)}`", after)


# --------------------------------------------------------------------- contacts


def make_for_break(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """A contact drawn the other way round. A wire cannot turn a contact, so circuits have none of it."""
    if around.wired:
        return

    def turned(contact: Expression) -> Iterator[Expression]:
        if isinstance(contact, tree.Not) and isinstance(contact.operand, tree.Name):
            yield contact.operand
        elif isinstance(contact, tree.Name):
            yield tree.Not(contact.span, contact)

    for expression, put in (*contact_sites(rung), *value_sites(rung)):
        for rewrite in contact_rewrites(expression, turned):
            yield _told("make for break", rewrite, put(rewrite.whole))


def edges(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """A level where an edge is needed, the other edge, an edge where a level is needed (at inputs)."""
    if around.wired:
        return
    for expression, put in contact_sites(rung):
        for rewrite in contact_rewrites(expression, _level_of):
            yield _told("level for edge", rewrite, put(rewrite.whole))
        for rewrite in contact_rewrites(expression, _other_edge):
            yield _told("other edge", rewrite, put(rewrite.whole))
        for rewrite in contact_rewrites(expression, lambda each: _edge_of(each, around)):
            yield _told("edge for level", rewrite, put(rewrite.whole))
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Stage) and element.kind == "rising":
            after = replace(rung, elements=without(rung.elements, place))
            yield Change("level for edge", element.span, f"`{to_text(element)}` left out", after)


def _level_of(contact: Expression) -> Iterator[Expression]:
    if isinstance(contact, tree.Edge):
        yield contact.operand


def _other_edge(contact: Expression) -> Iterator[Expression]:
    if isinstance(contact, tree.Edge):
        yield replace(contact, kind="falling" if contact.kind == "rising" else "rising")


def _edge_of(contact: Expression, around: Surroundings) -> Iterator[Expression]:
    if isinstance(contact, tree.Name):
        tag = around.tags.get(contact.text)
        if tag is not None and tag.role == "input" and tag.type == "bool":
            yield tree.Edge(contact.span, "rising", contact)


def wrong_tag(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """The tag above or below in the list, of the same role and type, in a contact or a right side."""
    names = _wrong_devices if around.wired else _wrong_names

    def another(node: Expression) -> Iterator[Expression]:
        if isinstance(node, tree.Name):
            for name in names(node.text, around):
                yield replace(node, text=name)

    for expression, put in (*contact_sites(rung), *value_sites(rung)):
        for rewrite in number_rewrites(expression, another):
            yield _told("wrong tag", rewrite, put(rewrite.whole))
    if around.wired:
        return
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Stage) and element.by is not None:
            for name in _wrong_names(element.by.text, around):
                by = replace(element.by, text=name)
                after = replace(rung, elements=with_one(rung.elements, place, replace(element, by=by)))
                yield Change("wrong tag", element.by.span, f"`{name}` for `{element.by.text}`", after)
    for place, output in enumerate(rung.outputs):
        for name in _wrong_names(output.target.text, around):
            target = replace(output.target, text=name)
            after = replace(rung, outputs=with_one(rung.outputs, place, replace(output, target=target)))
            yield Change("wrong tag", output.target.span, f"`{name}` for `{output.target.text}`", after)


def _wrong_names(name: str, around: Surroundings) -> list[str]:
    """The neighbours in the list of tags among those of the same role, type and unit."""
    tag = around.tags.get(name)
    if tag is None:
        return []
    alike = [t.name for t in around.tags.values() if (t.role, t.type, t.unit) == (tag.role, tag.type, tag.unit)]
    return _beside(alike, name)


def _wrong_devices(name: str, around: Surroundings) -> list[str]:
    """Another device's contact: which of its contacts a device lends is no matter of logic."""
    owner = name.partition(".")[0]
    others = [each for each in around.devices if each == name or each.partition(".")[0] != owner]
    return _beside(others, name)


def _beside(names: list[str], name: str) -> list[str]:
    if name not in names:
        return []
    place = names.index(name)
    return [*names[max(0, place - 1) : place], *names[place + 1 : place + 2]]


# ------------------------------------------------------------- lines and branches


def lines_lost(rung: Rung, around: Surroundings) -> Iterator[Change]:
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Stage) and element.kind == "rising":
            continue  # `level for edge` has it
        after = replace(rung, elements=without(rung.elements, place))
        yield Change("line lost", element.span, f"`{to_text(element)}`", after)
    for expression, put in contact_sites(rung):
        for rewrite in contact_rewrites(expression, _one_lost):
            lost = _lost_from(rewrite)
            yield Change("branch lost", lost.span, f"`{to_text(lost)}`", put(bare(rewrite.whole)))


def _one_lost(node: Expression) -> Iterator[Expression]:
    """A branch, or a contact in series within one, left out."""
    if isinstance(node, tree.Series | tree.Parallel):
        for place in range(len(node.operands)):
            left = without(node.operands, place)
            yield bare(left[0]) if len(left) == 1 else replace(node, operands=left)


def _lost_from(rewrite: Rewrite) -> Expression:
    assert isinstance(rewrite.old, tree.Series | tree.Parallel)
    kept = [bare(rewrite.new)] if not isinstance(rewrite.new, type(rewrite.old)) else [*rewrite.new.operands]
    left = [bare(each) for each in kept]
    return next(each for each in rewrite.old.operands if not _taken(bare(each), left))


def _taken(operand: Expression, left: list[Expression]) -> bool:
    """Whether `operand` is still there; each that is there counts once."""
    for place, each in enumerate(left):
        if each == operand:
            del left[place]
            return True
    return False


def lines_added(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """A contact of a neighbouring rung copied in, as it happens when a rung is copied and changed."""
    own = {to_text(element) for element in rung.elements}
    for neighbour in around.neighbours:
        for element in neighbour.elements:
            if isinstance(element, tree.Condition) and to_text(element) not in own:
                after = replace(rung, elements=(*rung.elements, element))
                yield Change("line added", rung.span, f"`{to_text(element)}`, from `{neighbour.name}`", after)
                break


def lines_swapped(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """Two neighbours, one of which is a stage: contacts in series say the same in either order."""
    for place in range(len(rung.elements) - 1):
        first, second = rung.elements[place : place + 2]
        if isinstance(first, tree.Stage) or isinstance(second, tree.Stage):
            elements = (*rung.elements[:place], second, first, *rung.elements[place + 2 :])
            words = f"`{to_text(first)}` and `{to_text(second)}`"
            yield Change("lines swapped", first.span, words, replace(rung, elements=elements))
    for place in range(len(rung.outputs) - 1):
        one, other = rung.outputs[place : place + 2]
        if one.value is not None or other.value is not None or one.when or other.when:
            outputs = (*rung.outputs[:place], other, one, *rung.outputs[place + 2 :])
            words = f"`{to_text(one)}` and `{to_text(other)}`"
            yield Change("lines swapped", one.span, words, replace(rung, outputs=outputs))


def branches_widened(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """A branch that is joined one line too late, or leaves one too early, and so goes round that line."""
    for place, element in enumerate(rung.elements):
        if not isinstance(element, tree.Condition):
            continue
        whole = bare(element.expression)
        if not isinstance(whole, tree.Parallel):
            continue
        for beside in (place + 1, place - 1):
            if not 0 <= beside < len(rung.elements):
                continue
            line = rung.elements[beside]
            if isinstance(line, tree.Condition):
                yield from _widened(rung, place, beside, whole, line)


def _widened(rung: Rung, place: int, beside: int, whole: tree.Parallel, line: tree.Condition) -> Iterator[Change]:
    for branch, operand in enumerate(whole.operands):
        others = without(whole.operands, branch)
        rest = bare(others[0]) if len(others) == 1 else tree.Parallel(whole.span, others)
        narrow = series(rest, line.expression) if beside > place else series(line.expression, rest)
        pair = (in_parallel(narrow), operand) if branch else (operand, in_parallel(narrow))
        joined = tree.Condition(whole.span, tree.Parallel(whole.span, pair))
        elements = without(with_one(rung.elements, place, joined), beside)
        words = f"`{to_text(operand)}` goes round `{to_text(line)}`"
        yield Change("branch widened", operand.span, words, replace(rung, elements=elements))
