"""Coverage: which conditions were ever seen to decide by themselves, and which never were."""

from __future__ import annotations

from rungproof.logic.checks.words import many, span_words
from rungproof.logic.coverage.result import ConditionCoverage, CoverageResult, DecisionCoverage, Reached
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, code, items, joined, own, paragraph, prose, section, table, text

#: The words of `coverage.result.Reached`, for a reader.
REACHED: dict[Reached, str] = {
    "scenarios": "seen in a scenario",
    "campaign": "seen in the search",
    "unreachable": "proved to be out of reach",
    "missing": "never seen",
}

ABOUT = (
    "A condition is shown to decide where two runs differ in it alone and the outcome differs too (modified "
    "condition/decision coverage, unique cause). What was never seen was not tried: it says nothing good and "
    "nothing bad. Whether it can be seen at all, `rungproof coverage` tries to prove; here no proof was tried."
)


def coverage_section(evidence: Evidence) -> Html:
    """Counts, then every condition and every stage that was never seen."""
    found = evidence.coverage
    if found is None:
        words = "Left out: it was not measured. `rungproof coverage` prints it."
        return section("coverage", "Coverage of the rungs", [paragraph(prose(words))])
    counts = found.counts()
    shown = counts["scenarios"] + counts["campaign"]
    runs = f"{many(found.runs, 'run')}, {span_words(found.simulated_ms)} of machine time, seed {found.seed}"
    head = f"{shown} of {many(sum(counts.values()), 'condition')} shown to decide; {runs}."
    return section(
        "coverage", "Coverage of the rungs", [paragraph(text(head)), *_missing(found), paragraph(prose(ABOUT), "note")]
    )


def _missing(found: CoverageResult) -> list[Html]:
    rows = [_row(d, c) for d in found.decisions for c in d.conditions if c.word in ("missing", "unreachable")]
    heads = [text(each) for each in ("Rung", "Condition", "How far", "What would show it")]
    parts = [table(heads, rows, "Conditions that were not shown to decide")] if rows else []
    stages = [
        (stage.rung, stage.stage, mark, reached)
        for stage in found.stages
        for mark, reached in (("below", stage.below), ("at", stage.at), ("past", stage.past))
        if reached in ("missing", "unreachable")
    ]
    heads = [text(each) for each in ("Rung", "Timer or counter", "Its preset", "How far")]
    told = [[code(rung), code(stage), text(mark), text(REACHED[reached])] for rung, stage, mark, reached in stages]
    return [*parts, *([table(heads, told, "Timers and counters that were not seen on every side")] if told else [])]


def _row(decision: DecisionCoverage, condition: ConditionCoverage) -> list[Html]:
    wanted = (
        items(own(each) for each in condition.inputs)
        if len(condition.inputs) > 1
        else joined(map(own, condition.inputs))
    )
    return [
        joined((code(decision.rung), text(f", {decision.part}"))),
        code(condition.name),
        text(REACHED[condition.word]),
        wanted or own(condition.why),
    ]
