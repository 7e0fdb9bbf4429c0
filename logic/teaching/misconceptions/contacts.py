"""Changes at contacts: edges and levels, make and break, branches, contacts that are missing or others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Literal

from rungproof.grammar import tree
from rungproof.logic.teaching.answer import Answer
from rungproof.logic.teaching.misconceptions.case import Case, Mend
from rungproof.logic.teaching.misconceptions.spots import (
    Spot,
    either,
    in_series,
    name,
    spots,
    targets,
    with_element,
)


def every_spot(case: Case) -> Iterator[Spot]:
    for rung in case.answer.rungs:
        yield from spots(rung)


def mend(case: Case, spot: Spot, new: object, tag: str = "") -> Mend:
    return Mend(case.answer.with_rung(spot.rung, spot.put(new)), spot.span, spot.rung.name, tag)


def of_rung(case: Case, old: tree.Rung, new: tree.Rung, tag: str = "", span: tree.Span | None = None) -> Mend:
    return Mend(case.answer.with_rung(old, new), span or old.span, old.name, tag)


# ------------------------------------------------------------- edges and levels


def level_for_edge(case: Case) -> Iterator[Mend]:
    """An input read as a level where only its coming on should count."""
    for spot in every_spot(case):
        if _bare_input(case, spot) and not targets(spot.rung, "reset"):
            yield mend(case, spot, tree.Edge(spot.span, "rising", spot.node), spot.node.text)


def release_not_remembered(case: Case) -> Iterator[Mend]:
    """Two buttons or more read as they are, where they must all have been off since the output last went off."""
    for rung in case.answer.rungs:
        read = {s.node.text for s in spots(rung) if isinstance(s.node, tree.Name)}
        buttons = [tag for tag in case.spoken_of if tag in case.inputs and tag in read]
        for tag in targets(rung, "coil"):
            if tag in case.spoken_of and len(buttons) > 1 and not _remembered(case, buttons):
                yield Mend(_with_memory(case.answer, rung, tag, buttons), rung.span, rung.name, tag)


def _remembered(case: Case, buttons: list[str]) -> bool:
    """Whether some rung sets a memory by these buttons already: then the mistake is another one."""
    for rung in case.answer.rungs:
        read = {s.node.text for s in spots(rung) if isinstance(s.node, tree.Name)}
        if targets(rung, "set") and read.issuperset(buttons):
            return True
    return False


def _with_memory(answer: Answer, rung: tree.Rung, tag: str, buttons: list[str]) -> Answer:
    """The answer with a memory that the buttons set while all are off, and the end of the output resets."""
    span, memory = rung.span, name("let_go", rung.span)
    off = tuple(tree.Condition(span, tree.Not(span, name(each, span))) for each in buttons)
    ended = tree.Condition(span, tree.Edge(span, "falling", name(tag, span)))
    three = (
        tree.Rung(span, "all_off", None, off, (tree.Output(span, "set", memory),)),
        in_series(rung, memory),
        tree.Rung(span, "has_ended", None, (ended,), (tree.Output(span, "reset", memory),)),
    )
    place = next(i for i, each in enumerate(answer.rungs) if each is rung)
    line = tree.TagLine(span, memory.text, "memory", "bool")
    rungs = (*answer.rungs[:place], *three, *answer.rungs[place + 1 :])
    return replace(answer, rungs=rungs, tags=(*answer.tags, line))


def reset_held(case: Case) -> Iterator[Mend]:
    """A reset that works for as long as its button is held."""
    for spot in every_spot(case):
        if _bare_input(case, spot) and targets(spot.rung, "reset"):
            yield mend(case, spot, tree.Edge(spot.span, "rising", spot.node), spot.node.text)


def _bare_input(case: Case, spot: Spot) -> bool:
    return isinstance(spot.node, tree.Name) and spot.bare and spot.node.text in case.inputs


def edges_together(case: Case) -> Iterator[Mend]:
    """Two edges in series, which would have to come in one and the same scan."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Edge) and _edges(spot.rung) > 1:
            yield mend(case, spot, spot.node.operand, _tag(spot.node))


def edge_for_level(case: Case) -> Iterator[Mend]:
    """An edge, which lasts one scan, where the state itself should count."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Edge):
            yield mend(case, spot, spot.node.operand, _tag(spot.node))


def wrong_edge(case: Case) -> Iterator[Mend]:
    """The edge of letting go instead of pressing, or the other way round."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Edge):
            other: Literal["rising", "falling"] = "falling" if spot.node.kind == "rising" else "rising"
            yield mend(case, spot, replace(spot.node, kind=other), _tag(spot.node))


def _edges(rung: tree.Rung) -> int:
    return sum(isinstance(spot.node, tree.Edge) for spot in spots(rung))


def _tag(edge: tree.Edge) -> str:
    return edge.operand.text if isinstance(edge.operand, tree.Name) else ""


# --------------------------------------------------------------- make and break


def make_for_break(case: Case) -> Iterator[Mend]:
    """`not` before an input whose device opens its contact when it is operated."""
    for spot in every_spot(case):
        operand = spot.node.operand if isinstance(spot.node, tree.Not) else None
        if isinstance(operand, tree.Name) and operand.text in case.inputs:
            yield mend(case, spot, operand, operand.text)


def break_for_make(case: Case) -> Iterator[Mend]:
    """No `not` before an input that should block while it is on."""
    for spot in every_spot(case):
        if _bare_input(case, spot):
            yield mend(case, spot, tree.Not(spot.span, spot.node), spot.node.text)


def own_tag_inverted(case: Case) -> Iterator[Mend]:
    """A memory, stage or output read the wrong way round."""
    own = {*case.written, *case.stages()}
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Not) and isinstance(spot.node.operand, tree.Name):
            if spot.node.operand.text in own:
                yield mend(case, spot, spot.node.operand, spot.node.operand.text)
        elif isinstance(spot.node, tree.Name) and spot.bare and spot.node.text in own:
            yield mend(case, spot, tree.Not(spot.span, spot.node), spot.node.text)


# --------------------------------------------------------------------- branches


def or_for_and(case: Case) -> Iterator[Mend]:
    """Branches in parallel where all of them are wanted."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Parallel):
            yield mend(case, spot, tree.Series(spot.span, spot.node.operands))


def and_for_or(case: Case) -> Iterator[Mend]:
    """Contacts in series where one of them is enough."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Series):
            yield mend(case, spot, tree.Group(spot.span, tree.Parallel(spot.span, spot.node.operands)))
    for rung in case.answer.rungs:
        for place in range(len(rung.elements) - 1):
            one, two = rung.elements[place], rung.elements[place + 1]
            if isinstance(one, tree.Condition) and isinstance(two, tree.Condition):
                joined = tree.Condition(one.span, either(one.expression, two.expression))
                elements = (*rung.elements[:place], joined, *rung.elements[place + 2 :])
                yield of_rung(case, rung, replace(rung, elements=elements), span=two.span)


def branch_missing(case: Case) -> Iterator[Mend]:
    """A way to switch it on that the task asks for and no branch gives."""
    for rung in case.answer.rungs:
        read = {s.node.text for s in spots(rung) if isinstance(s.node, tree.Name)}
        for tag in case.spoken_of:
            if tag in (*case.inputs, *case.written) and tag not in read and tag not in targets(rung):
                for place, element in enumerate(rung.elements):
                    if isinstance(element, tree.Condition):
                        for contact in (
                            name(tag, element.span),
                            tree.Edge(element.span, "rising", name(tag, element.span)),
                        ):
                            more = replace(element, expression=either(element.expression, contact))
                            yield of_rung(case, rung, with_element(rung, place, more), tag)


# ------------------------------------------------------------- missing contacts


def _missing(
    case: Case, tags: list[str], fits: Callable[[tree.Rung], bool], states: tuple[bool, ...] = (True, False)
) -> Iterator[Mend]:
    """One more contact in series: `states` say whether it may want its tag on, or off."""
    for rung in case.answer.rungs:
        read = {s.node.text for s in spots(rung) if isinstance(s.node, tree.Name)}
        for tag in tags:
            if tag in read or tag in targets(rung, "coil", "set", "assign") or not fits(rung):
                continue
            contact = name(tag, rung.span)
            for state in states:
                expression = contact if state else tree.Not(rung.span, contact)
                yield of_rung(case, rung, in_series(rung, expression), tag)


def interlock_missing(case: Case) -> Iterator[Mend]:
    """An input that the requirement speaks of and that the rung does not look at."""
    tags = [tag for tag in case.spoken_of if tag in case.inputs]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "coil", "set", "assign")))


def partner_missing(case: Case) -> Iterator[Mend]:
    """Two outputs that exclude each other, and a rung that does not look at the other one."""
    tags = [tag for tag in case.spoken_of if tag in case.written]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "coil")), (False,))


def needs_the_other(case: Case) -> Iterator[Mend]:
    """An output that may be on only while another one is, and a rung that does not look at it."""
    tags = [tag for tag in case.spoken_of if tag in case.written]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "coil")), (True,))


def first_out_open(case: Case) -> Iterator[Mend]:
    """A first cause that is set although another one has been set already."""
    tags = [tag for tag in case.spoken_of if tag in case.written]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "set")), (False,))


def step_without_predecessor(case: Case) -> Iterator[Mend]:
    """A step that begins whether or not the one before it is active."""
    tags = [tag for tag in case.written if any(tag in targets(r, "set") for r in case.answer.rungs)]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "set")), (True,))


def trip_not_read(case: Case) -> Iterator[Mend]:
    """A trip or permission that is worked out, and that the rung does not look at."""
    driven = {tag for rung in case.answer.rungs for tag in targets(rung)}
    tags = [tag for tag in case.written if tag not in case.spoken_of and tag in driven]
    yield from _missing(case, tags, lambda rung: bool(targets(rung, "coil", "assign")))


def contact_too_many(case: Case) -> Iterator[Mend]:
    """A line that keeps power away where the task asks for it."""
    for rung in case.answer.rungs:
        for place, element in enumerate(rung.elements):
            if len(rung.elements) > 1:
                yield of_rung(case, rung, with_element(rung, place), span=element.span)


def wrong_contact(case: Case) -> Iterator[Mend]:
    """Another input read than the one that is meant."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Name) and spot.node.text in case.inputs:
            read = {s.node.text for s in spots(spot.rung) if isinstance(s.node, tree.Name)}
            for other in case.inputs:
                if other not in read:
                    yield mend(case, spot, name(other, spot.span), spot.node.text)


# --------------------------------------------------------------------- seal-in


def no_seal_in(case: Case) -> Iterator[Mend]:
    """Nothing keeps it on once the button has sprung back."""
    for rung in case.answer.rungs:
        for tag in targets(rung, "coil"):
            names = [s for s in spots(rung) if isinstance(s.node, tree.Name)]
            started = any(not s.within or not isinstance(s.within[-1], tree.Not) for s in names)
            if any(s.node.text == tag for s in names) or not started:
                continue
            for place, element in enumerate(rung.elements):
                if isinstance(element, tree.Condition):
                    held = replace(element, expression=either(element.expression, name(tag, element.span)))
                    yield of_rung(case, rung, with_element(rung, place, held), tag, element.span)


def seal_in_round(case: Case) -> Iterator[Mend]:
    """The branch that holds goes round a contact that stands in the branch that starts."""
    for rung in case.answer.rungs:
        for place, element in enumerate(rung.elements):
            if not isinstance(element, tree.Condition):
                continue
            branches = _open(element.expression)
            if isinstance(branches, tree.Parallel):
                yield from _pulled_out(case, rung, place, branches)


def _pulled_out(case: Case, rung: tree.Rung, place: int, branches: tree.Parallel) -> Iterator[Mend]:
    """Contacts of one branch that stand in series with all of them instead, one at a time."""
    for index, branch in enumerate(branches.operands):
        series = _open(branch)
        if not isinstance(series, tree.Series):
            continue
        for out, contact in enumerate(series.operands):
            if isinstance(contact, tree.Edge):
                continue  # what starts it belongs into the branch that starts
            left = (*series.operands[:out], *series.operands[out + 1 :])
            rest = left[0] if len(left) == 1 else tree.Series(series.span, left)
            operands = (*branches.operands[:index], rest, *branches.operands[index + 1 :])
            span = rung.elements[place].span
            first = tree.Condition(span, tree.Parallel(branches.span, operands))
            after = tree.Condition(span, contact)
            tag = contact.text if isinstance(contact, tree.Name) else ""
            yield of_rung(case, rung, with_element(rung, place, first, after), tag, span)


def _open(node: tree.Expression) -> tree.Expression:
    while isinstance(node, tree.Group):
        node = node.inner
    return node
