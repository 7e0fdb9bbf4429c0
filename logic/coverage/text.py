"""Coverage as text, beside the drawn rungs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rungproof.grammar.tree import Block
from rungproof.logic.coverage.pairs import row_text
from rungproof.logic.coverage.result import (
    ConditionCoverage,
    CoverageResult,
    DecisionCoverage,
    Reached,
    RequirementCoverage,
    StageCoverage,
)
from rungproof.logic.evidence.drawing_text import draw_rung, sheets_of
from rungproof.logic.evidence.wrapping import wrap

WORDS: dict[Reached, str] = {
    "scenarios": "shown by scenarios",
    "campaign": "shown by the search",
    "unreachable": "proved that no inputs show it",
    "missing": "MISSING",
}
_MARKS: dict[Reached, str] = {
    "scenarios": "by scenarios",
    "campaign": "by the search",
    "unreachable": "proved never to come",
    "missing": "MISSING",
}


def rungs_text(result: CoverageResult, blocks: Iterable[Block], *, width: int = 100) -> Iterator[str]:
    """Every rung of the controller drawn, with what is known of its decisions and stages below it."""
    sheets = [sheet for sheet in sheets_of(list(blocks)) if sheet.contacts is None]
    for sheet in sheets:
        for rung in sheet.rungs:
            yield from draw_rung(rung, rails=sheet.rails, width=width)
            for decision in result.of_rung(rung.name):
                yield from decision_text(decision, width)
            for stage in result.stages:
                if stage.rung == rung.name:
                    yield stage_text(stage)
            yield ""


def decision_text(decision: DecisionCoverage, width: int) -> Iterator[str]:
    """A decision's conditions, each with its pair: rows off and on, in the order of the conditions."""
    names = [condition.name for condition in decision.conditions]
    yield f"    {decision.part}: {', '.join(names)}"
    column = max(len(name) for name in names) + 6
    for condition in decision.conditions:
        yield f"      {condition.name.ljust(column - 6)}  {_condition(condition)}"
        yield from _wanted(condition, width)


def _condition(condition: ConditionCoverage) -> str:
    if condition.off is None or condition.on is None:
        return f"{WORDS[condition.word]}: {condition.why}"
    return f"{row_text(condition.off)}/{row_text(condition.on)}  {WORDS[condition.word]}"


def _wanted(condition: ConditionCoverage, width: int) -> Iterator[str]:
    if condition.word != "missing":
        return
    for words, story in zip(condition.inputs, condition.stories, strict=True):
        yield from (f"          {row}" for row in wrap(f"wanted: {words}", width - 10))
        if story is not None:
            yield "          these inputs bring it, in the controller alone:"
            yield from (f"            {row}" for row in story.rstrip().split("\n")[1:])
    if condition.why:
        yield from (f"          {row}" for row in wrap(f"neither found nor proved away: {condition.why}", width - 10))


def stage_text(stage: StageCoverage) -> str:
    """`stage rest_time: below its preset by scenarios, at it MISSING, past it by the search`."""
    below, at, past = (_MARKS[word] for word in (stage.below, stage.at, stage.past))
    return f"    stage {stage.stage}: below its preset {below}, at it {at}, past it {past}"


def requirements_text(requirements: Sequence[RequirementCoverage]) -> Iterator[str]:
    """One line for each requirement that waits for something."""
    width = max((len(each.requirement) for each in requirements), default=0)
    for each in requirements:
        marks = ", ".join(f"{mark} {_MARKS[word]}" for mark, word in each.marks)
        yield f"{each.requirement.ljust(width)}  {marks}"
