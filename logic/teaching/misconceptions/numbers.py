"""Changes at numbers: comparisons, limits, scaling, the direction of a control."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rungproof.grammar import tree
from rungproof.logic.teaching.misconceptions.case import Case, Mend
from rungproof.logic.teaching.misconceptions.contacts import every_spot, mend, of_rung
from rungproof.logic.teaching.misconceptions.spots import in_series, spots, targets

_TURNED: dict[tree.Relation, tree.Relation] = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "=": "<>", "<>": "="}
_WIDENED: dict[tree.Relation, tree.Relation] = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
_DENIED: dict[tree.Relation, tree.Relation] = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>", "<>": "="}


def _operator(case: Case, others: dict[tree.Relation, tree.Relation]) -> Iterator[Mend]:
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Compare) and spot.node.operator in others:
            changed = replace(spot.node, operator=others[spot.node.operator])
            yield mend(case, spot, changed, _named(spot.node))


def limit_included(case: Case) -> Iterator[Mend]:
    """The limit itself counts, and should not, or the other way round."""
    yield from _operator(case, _WIDENED)


def comparison_turned(case: Case) -> Iterator[Mend]:
    """Above where below is meant."""
    yield from _operator(case, _TURNED)


def limit_wrong(case: Case) -> Iterator[Mend]:
    """Another limit than the one the task gives."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Number) and any(isinstance(each, tree.Compare) for each in spot.within):
            for number in case.numbers():
                if number != spot.node and number.unit == spot.node.unit:
                    yield mend(case, spot, number)


def signal_believed(case: Case) -> Iterator[Mend]:
    """A reading that no sound sensor gives is taken for a level."""
    for compare, tag in _of_inputs(case, "<", "<="):
        for rung in case.answer.rungs:
            if targets(rung, "coil", "set", "assign") and not _compared(rung, compare):
                yield from _compared_too(case, rung, compare, tag)
            for output in rung.outputs:
                if output.kind == "set" and output.target.text in case.spoken_of:
                    off = tree.Condition(rung.span, compare)
                    reset = tree.Rung(rung.span, "signal_lost", None, (off,), (replace(output, kind="reset"),))
                    yield Mend(replace(case.answer, rungs=(*case.answer.rungs, reset)), rung.span, rung.name, tag)


def limit_forgotten(case: Case) -> Iterator[Mend]:
    """A limit above which it must be off, or on, which no line of the rung looks at."""
    for compare, tag in _of_inputs(case, ">", ">="):
        for rung in case.answer.rungs:
            if targets(rung, "coil", "set", "assign") and not _compared(rung, compare):
                yield from _compared_too(case, rung, compare, tag)


def _of_inputs(case: Case, *operators: str) -> Iterator[tuple[tree.Compare, str]]:
    """The comparisons of an input in the requirement, each with the input's name."""
    inputs = {line.name for line in case.task.tags if line.role == "input"}
    for compare in case.comparisons():
        if compare.operator in operators and (tag := _named(compare)) in inputs:
            yield compare, tag


def _compared_too(case: Case, rung: tree.Rung, compare: tree.Compare, tag: str) -> Iterator[Mend]:
    for operator in (_DENIED[compare.operator], compare.operator):
        more = replace(compare, operator=operator)
        yield of_rung(case, rung, in_series(rung, more), tag)


def _compared(rung: tree.Rung, compare: tree.Compare) -> bool:
    alike = (s.node for s in spots(rung) if isinstance(s.node, tree.Compare))
    return any(each.left == compare.left and each.right == compare.right for each in alike)


def no_hysteresis(case: Case) -> Iterator[Mend]:
    """On and off at one and the same level: every ripple switches."""
    if not isinstance(case.form, tree.AtMost):
        return
    for rung in case.answer.rungs:
        compares = [s for s in spots(rung) if isinstance(s.node, tree.Compare)]
        holds = any(isinstance(s.node, tree.Name) and s.node.text in targets(rung) for s in spots(rung))
        if compares and targets(rung, "coil") and not holds:
            yield Mend(None, compares[0].span, rung.name, _named(compares[0].node))


def scaling_turned(case: Case) -> Iterator[Mend]:
    """The ends of a scaling exchanged."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Call) and spot.node.function == "scale":
            for place in (2, 1):
                argument = spot.node.arguments[place]
                if isinstance(argument.value, tree.Interval):
                    ends = replace(argument.value, low=argument.value.high, high=argument.value.low)
                    arguments = list(spot.node.arguments)
                    arguments[place] = replace(argument, value=ends)
                    yield mend(case, spot, replace(spot.node, arguments=tuple(arguments)))


def control_turned_round(case: Case) -> Iterator[Mend]:
    """More where less is wanted: the controller acts in the wrong direction."""
    for spot in every_spot(case):
        if isinstance(spot.node, tree.Call) and spot.node.function == "pi":
            turned = tuple(_turned(argument) for argument in spot.node.arguments)
            yield mend(case, spot, replace(spot.node, arguments=turned))


def _turned(argument: tree.Argument) -> tree.Argument:
    if argument.keyword != "direction" or not isinstance(argument.value, tree.Name):
        return argument
    other = "direct" if argument.value.text == "reverse" else "reverse"
    return replace(argument, value=replace(argument.value, text=other))


def _named(compare: tree.Compare) -> str:
    return next((side.text for side in (compare.left, compare.right) if isinstance(side, tree.Name)), "")
