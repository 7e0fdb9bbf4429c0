"""Seal-in branches that go round what the start branch asks for."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.paths import Paths, names_within, reads_in
from rungproof.logic.meaning.program import Condition, Output, Rung
from rungproof.logic.meaning.typed import AllOf, AnyOf, EdgeOf, Expression, Inverse, TagValue


def find_in_sealing(paths: Paths, reporter: Reporter) -> None:
    """Report each permissive that only the start branch looks at, while the tag's own contact seals in.

    A permissive is an input, or a memory tag made from inputs, that stands in series with
    something else; a rest time or a pause, which is made from outputs, is meant for the
    start alone.
    """
    for rung in paths.controller.rungs:
        for output in rung.outputs:
            if output.kind == "coil":
                for line in rung.elements:
                    if isinstance(line, Condition) and isinstance(line.expression, AnyOf):
                        _find_in_line(rung, line, output, paths, reporter)


def _find_in_line(rung: Rung, line: Condition, output: Output, paths: Paths, reporter: Reporter) -> None:
    assert isinstance(line.expression, AnyOf)
    sealing = [branch for branch in line.expression.operands if _holds_itself(branch, output.target)]
    if not sealing:
        return
    looked_at = {name for branch in sealing for name in names_within(branch)}
    others = [element for element in rung.elements if element is not line]
    looked_at |= {name for element in others for name in names_within(getattr(element, "expression", None))}
    for branch in line.expression.operands:
        if branch in sealing or not isinstance(branch, AllOf):
            continue
        levels = list(_levels(branch))
        passed = [node for node in levels if node.tag not in looked_at and _asks_inputs(node.tag, paths)]
        # The start button itself is one of them where no edge starts it.
        if len(passed) == len(branch.operands):
            passed = passed[1:]
        for node in passed:
            reporter.report(
                "seal-in-goes-round",
                node.span,
                name=node.tag,
                sealed=output.target,
                related=((sealing[0].span, "goes round it"),),
            )


def _holds_itself(branch: Expression, target: str) -> bool:
    operands = branch.operands if isinstance(branch, AllOf) else (branch,)
    return any(isinstance(operand, TagValue) and operand.tag == target for operand in operands)


def _levels(branch: AllOf) -> Iterator[TagValue]:
    """The contacts of a branch that ask for a level, not an edge, whichever way round."""
    for operand in branch.operands:
        inner = operand.operand if isinstance(operand, Inverse) else operand
        if isinstance(inner, TagValue) and not isinstance(operand, EdgeOf):
            yield inner


def _asks_inputs(name: str, paths: Paths) -> bool:
    tags = paths.controller.tags
    if tags[name].role == "input":
        return True
    writers = [paths.controller.rungs[number] for number in paths.writers.get(name, [])]
    return any(read in tags and tags[read].role == "input" for rung in writers for read, _ in reads_in(rung))
