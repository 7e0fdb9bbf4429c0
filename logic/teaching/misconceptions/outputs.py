"""Changes at outputs: coils, set and reset, which of them stands last, what is never written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from rungproof.grammar import tree
from rungproof.logic.teaching.answer import Answer
from rungproof.logic.teaching.misconceptions.case import Case, Mend
from rungproof.logic.teaching.misconceptions.contacts import of_rung
from rungproof.logic.teaching.misconceptions.spots import in_series, name, spots, targets, with_output


def never_written(case: Case) -> Iterator[Mend]:
    """An output that no rung drives."""
    driven = {tag for rung in case.answer.rungs for tag in targets(rung)}
    for line in case.task.tags:
        if line.role == "output" and line.name in case.spoken_of and line.name not in driven:
            yield Mend(None, line.span, tag=line.name)


def two_coils(case: Case) -> Iterator[Mend]:
    """One tag with two coils: of two, the one that stands last decides alone."""
    for found in case.diagnoses:
        if found.code in ("two-coils", "coil-and-set"):
            yield Mend(None, found.span)


def _changed(case: Case, old: str, new: Literal["coil", "negated", "set", "reset"]) -> Iterator[Mend]:
    for rung in case.answer.rungs:
        for place, output in enumerate(rung.outputs):
            if output.kind == old:
                other = with_output(rung, place, replace(output, kind=new))
                yield of_rung(case, rung, other, output.target.text, output.span)


def coil_for_set(case: Case) -> Iterator[Mend]:
    """What should stay on goes with its cause."""
    yield from _changed(case, "coil", "set")


def set_for_coil(case: Case) -> Iterator[Mend]:
    """What should go with its cause stays on."""
    yield from _changed(case, "set", "coil")


def coil_inverted(case: Case) -> Iterator[Mend]:
    """An output that is on exactly when it should be off."""
    yield from _changed(case, "negated", "coil")


def set_and_reset_exchanged(case: Case) -> Iterator[Mend]:
    """A `set` where the task says reset, or the other way round."""
    yield from _changed(case, "set", "reset")
    yield from _changed(case, "reset", "set")


def nothing_resets_it(case: Case) -> Iterator[Mend]:
    """Something is set, and nothing in the program ever takes it off."""
    for rung in case.answer.rungs:
        for output in rung.outputs:
            tag = output.target.text
            if output.kind == "set" and not any(tag in targets(r, "reset") for r in case.answer.rungs):
                for by in case.inputs:
                    contact = name(by, output.span)
                    yield _with_reset(case, rung, output, contact)
                    yield _with_reset(case, rung, output, tree.Not(output.span, contact))
                    yield _with_reset(case, rung, output, tree.Edge(output.span, "rising", contact))
                for by in case.written:
                    yield _with_reset(case, rung, output, tree.Edge(output.span, "falling", name(by, output.span)))


def _with_reset(case: Case, rung: tree.Rung, output: tree.Output, contact: tree.Expression) -> Mend:
    element = tree.Condition(output.span, contact)
    reset = tree.Output(output.span, "reset", output.target)
    fresh = tree.Rung(output.span, f"{rung.name}_off", None, (element,), (reset,))
    place = next(i for i, each in enumerate(case.answer.rungs) if each is rung) + 1
    rungs = (*case.answer.rungs[:place], fresh, *case.answer.rungs[place:])
    return Mend(replace(case.answer, rungs=rungs), output.span, rung.name, output.target.text)


def _order(case: Case, last: str) -> Iterator[Mend]:
    """The rung with `last` moved before the other one of the pair."""
    first = "reset" if last == "set" else "set"
    rungs = list(case.answer.rungs)
    for late, rung in enumerate(rungs):
        for tag in targets(rung, last):
            for early in range(late):
                if tag in targets(rungs[early], first):
                    order = [*rungs[:early], rung, *rungs[early:late], *rungs[late + 1 :]]
                    yield Mend(replace(case.answer, rungs=tuple(order)), rung.span, rung.name, tag)


def set_stands_last(case: Case) -> Iterator[Mend]:
    """Set and reset in one scan: the set stands last and wins."""
    yield from _order(case, "set")


def reset_stands_last(case: Case) -> Iterator[Mend]:
    """Set and reset in one scan: the reset stands last and wins over a cause that is still there."""
    yield from _order(case, "reset")


def reset_while_cause_stands(case: Case) -> Iterator[Mend]:
    """A reset that works while what tripped it is still there."""
    for rung in case.answer.rungs:
        for tag in targets(rung, "reset"):
            for cause in case.answer.rungs:
                if tag in targets(cause, "set"):
                    for contact in _opposites(cause):
                        yield of_rung(case, rung, in_series(rung, contact), tag)


def _opposites(rung: tree.Rung) -> Iterator[tree.Expression]:
    for spot in spots(rung):
        if isinstance(spot.node, tree.Name) and not any(isinstance(each, tree.Compare) for each in spot.within):
            inverted = spot.within and isinstance(spot.within[-1], tree.Not)
            yield spot.node if inverted else tree.Not(spot.span, spot.node)


def step_left_standing(case: Case) -> Iterator[Mend]:
    """The next step begins and the one before it stays."""
    set_somewhere = {tag for rung in case.answer.rungs for tag in targets(rung, "set")}
    for rung in case.answer.rungs:
        if not targets(rung, "set"):
            continue
        for spot in spots(rung):
            step = spot.node.text if isinstance(spot.node, tree.Name) and spot.bare else None
            if step in set_somewhere and step not in targets(rung):
                off = tree.Output(rung.outputs[-1].span, "reset", spot.node)
                yield of_rung(case, rung, replace(rung, outputs=(*rung.outputs, off)), spot.node.text)


def wrong_coil(case: Case) -> Iterator[Mend]:
    """The rung drives another output than the one that is meant, which nothing drives."""
    driven = {tag for rung in case.answer.rungs for tag in targets(rung)}
    undriven = [tag for tag in case.spoken_of if tag in case.written and tag not in driven]
    for rung in case.answer.rungs:
        for place, output in enumerate(rung.outputs):
            for other in undriven:
                if output.kind != "assign":
                    target = replace(output, target=name(other, output.span))
                    yield of_rung(case, rung, with_output(rung, place, target), output.target.text, output.span)


def one_scan_late(case: Case) -> Iterator[Mend]:
    """A rung that reads what a later rung writes sees the value of the scan before."""
    rungs = list(case.answer.rungs)
    for early, rung in enumerate(rungs):
        read = {s.node.text for s in spots(rung) if isinstance(s.node, tree.Name)}
        for late in range(early + 1, len(rungs)):
            if read & {*targets(rungs[late]), *_stages(rungs[late])}:
                order = [*rungs[:early], *rungs[early + 1 : late + 1], rung, *rungs[late + 1 :]]
                yield Mend(replace(case.answer, rungs=tuple(order)), rung.span, rung.name)
                order = [*rungs[:early], rungs[late], *rungs[early:late], *rungs[late + 1 :]]
                yield Mend(replace(case.answer, rungs=tuple(order)), rungs[late].span, rungs[late].name)


def _stages(rung: tree.Rung) -> list[str]:
    return [e.name for e in rung.elements if isinstance(e, tree.Stage)]


def value_left_standing(case: Case) -> Iterator[Mend]:
    """A number that is given under a condition and keeps its last value when the condition goes."""
    for rung in case.answer.rungs:
        for output in rung.outputs:
            alone = sum(output.target.text in targets(r, "assign") for r in case.answer.rungs) == 1
            if output.kind == "assign" and alone and rung.elements:
                yield from _given_nothing(case, rung, output)


def _given_nothing(case: Case, rung: tree.Rung, output: tree.Output) -> Iterator[Mend]:
    unit = next((t.unit for t in (*case.task.tags, *case.answer.tags) if t.name == output.target.text), None)
    nothing = replace(output, value=tree.Number(output.span, "0", unit), when=None)
    always = tree.Rung(rung.span, f"{rung.name}_first", None, (), (nothing,))
    place = next(i for i, each in enumerate(case.answer.rungs) if each is rung)
    rungs = (*case.answer.rungs[:place], always, *case.answer.rungs[place:])
    yield Mend(Answer(rungs, case.answer.tags, case.answer.circuits), output.span, rung.name, output.target.text)
