"""What is known of a project's coverage: frozen, typed, ready for JSON and for the report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from rungproof.grammar.tree import Span
from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.coverage.pairs import Row, row_text

#: How far something was reached.
#:
#: scenarios    the file's own scenarios reach it.
#: campaign     the search does, no scenario.
#: unreachable  proved: no course of the inputs reaches it, whatever the plant.
#: missing      not reached, and not proved to be out of reach.
Reached = Literal["scenarios", "campaign", "unreachable", "missing"]


@dataclass(frozen=True, slots=True)
class ConditionCoverage:
    """Whether one condition was shown to decide by itself. `off` and `on` are the two rows of the pair.

    For a missing one `lacking` are the rows of the pair that nobody reached; for each of them `inputs` says
    in words what it wants, and `stories` holds a course of the inputs that shows it, found by a solver in
    the controller alone (with a plant: if the plant can bring that about), or None.
    """

    name: str
    word: Reached
    off: Row | None = None
    on: Row | None = None
    lacking: tuple[Row, ...] = ()
    inputs: tuple[str, ...] = ()
    stories: tuple[str | None, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class RowCoverage:
    """One row of values of a decision's conditions, and who reached it."""

    row: Row
    outcome: bool
    word: Reached


@dataclass(frozen=True, slots=True)
class DecisionCoverage:
    """One decision of a rung: its path up to a stage or its end, or a `when`."""

    rung: str
    part: str
    span: Span
    conditions: tuple[ConditionCoverage, ...]
    rows: tuple[RowCoverage, ...]


@dataclass(frozen=True, slots=True)
class StageCoverage:
    """A timer or counter: who saw it below, at and past its preset."""

    rung: str
    stage: str
    below: Reached
    at: Reached
    past: Reached


@dataclass(frozen=True, slots=True)
class RequirementCoverage:
    """What was reached of a requirement, mark by mark, in the order in which a run comes to them."""

    requirement: str
    marks: tuple[tuple[str, Reached], ...]


@dataclass(frozen=True, slots=True)
class CoverageResult:
    """Coverage of every rung, stage and requirement of a project."""

    decisions: tuple[DecisionCoverage, ...]
    stages: tuple[StageCoverage, ...]
    requirements: tuple[RequirementCoverage, ...]
    seed: int
    runs: int
    simulated_ms: int

    def counts(self) -> dict[Reached, int]:
        """Conditions by how far they were shown to decide."""
        words: tuple[Reached, ...] = ("scenarios", "campaign", "unreachable", "missing")
        found = [condition.word for decision in self.decisions for condition in decision.conditions]
        return {word: found.count(word) for word in words}

    def all_counts(self) -> dict[Reached, int]:
        """The same of conditions, stages' marks and requirements' marks together."""
        counts = self.counts()
        others = [word for stage in self.stages for word in (stage.below, stage.at, stage.past)]
        others += [word for requirement in self.requirements for _, word in requirement.marks]
        return {word: count + others.count(word) for word, count in counts.items()}

    @property
    def score(self) -> float | None:
        """Share of shown conditions among those not proved out of reach; None where there is none."""
        counts = self.counts()
        shown = counts["scenarios"] + counts["campaign"]
        return shown / (shown + counts["missing"]) if shown + counts["missing"] else None

    @property
    def exit_code(self) -> int:
        """0 where nothing is missing, else 3."""
        return 3 if self.all_counts()["missing"] else 0

    def of_rung(self, name: str) -> tuple[DecisionCoverage, ...]:
        return tuple(each for each in self.decisions if each.rung == name)

    def to_json(self) -> dict[str, Any]:
        return {
            "decisions": [_decision_json(each) for each in self.decisions],
            "stages": [
                {"rung": s.rung, "stage": s.stage, "below": s.below, "at": s.at, "past": s.past} for s in self.stages
            ],
            "requirements": [{"id": r.requirement, "marks": dict(r.marks)} for r in self.requirements],
            "conditions": self.counts(),
            "score": self.score,
            "runs": self.runs,
            "simulated_ms": self.simulated_ms,
        }

    def _repr_html_(self) -> str:
        rows = [
            (f"{decision.rung}, {decision.part}", condition.name, condition.word, "; ".join(condition.inputs))
            for decision in self.decisions
            for condition in decision.conditions
        ]
        return table(("Decision", "Condition", "Shown by", "Wanted"), rows, note=IN_THE_MODEL)


def _decision_json(decision: DecisionCoverage) -> dict[str, Any]:
    return {
        "rung": decision.rung,
        "part": decision.part,
        "file": decision.span.file,
        "line": decision.span.line,
        "conditions": [
            {
                "name": each.name,
                "shown": each.word,
                "pair": None if each.off is None or each.on is None else [row_text(each.off), row_text(each.on)],
                "lacking": [row_text(row) for row in each.lacking],
                "inputs": list(each.inputs),
                "stories": list(each.stories),
                "why": each.why,
            }
            for each in decision.conditions
        ],
        "rows": [{"row": row_text(r.row), "outcome": r.outcome, "reached": r.word} for r in decision.rows],
    }
