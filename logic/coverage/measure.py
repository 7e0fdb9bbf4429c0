"""Coverage of a project measured: scenarios, then a search led by what is missing, then proofs for the rest."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

from rungproof.logic.checks.search import Progress
from rungproof.logic.coverage.campaign import Campaign, campaign_of
from rungproof.logic.coverage.decisions import Decision
from rungproof.logic.coverage.instrument import Instrumented, Latched, StageMark, instrument
from rungproof.logic.coverage.pairs import Pair, Row, row_words
from rungproof.logic.coverage.requirement_marks import marked, marks_of
from rungproof.logic.coverage.result import (
    ConditionCoverage,
    CoverageResult,
    DecisionCoverage,
    Reached,
    RequirementCoverage,
    RowCoverage,
    StageCoverage,
)
from rungproof.logic.coverage.unreachable import Sought, alone, sought
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project

#: Planned seconds of the search, and seconds for the proof of one row.
SEARCH_S, PROVE_S = 8.0, 2.0
#: Rows of one condition's pairs that are asked about: one that decides in many ways need not miss them all.
MOST_ROWS = 8


def measure(
    project: Project,
    program: Program,
    *,
    seed: int = 0,
    time_s: float = SEARCH_S,
    prove_s: float = PROVE_S,
    progress: Progress | None = None,
    executor: Executor | None = None,
    unhurried: bool = False,
) -> CoverageResult:
    """Measure a program that can be run; `project` is its tree.

    Deterministic by `seed`, but for proofs that the clock ends, and for the search, unless it is `unhurried`.
    """
    instrumented = instrument(program)
    watched = Instrumented(marked(instrumented.program), instrumented.decisions, instrumented.latches)
    campaign = campaign_of(watched, seed=seed, time_s=time_s, progress=progress, executor=executor, unhurried=unhurried)
    work = _Measure(program, instrumented, campaign)
    if prove_s > 0 and program.controller is not None:
        bench = alone(project.blocks, project.sources)
        wanted = work.wanted()
        if bench is not None and wanted:
            work.found = sought(bench, wanted, prove_s, progress)
    return CoverageResult(
        decisions=tuple(work.decision(number, each) for number, each in enumerate(instrumented.decisions)),
        stages=tuple(work.stages()),
        requirements=tuple(work.requirements()),
        seed=seed,
        runs=campaign.runs,
        simulated_ms=campaign.simulated_ms,
    )


@dataclass
class _Measure:
    program: Program
    instrumented: Instrumented
    campaign: Campaign
    found: dict[Latched, Sought] = field(default_factory=dict)
    names: dict[Latched, str] = field(init=False)

    def __post_init__(self) -> None:
        self.names = {what: name for name, what in self.instrumented.latches.items()}

    # --------------------------------------------------------------- what is known

    def _word(self, name: str, what: Latched | None = None) -> Reached:
        reach = self.campaign.reached.get(name)
        if reach is not None:
            return "scenarios" if reach.scenario is not None else "campaign"
        known = self.found.get(what) if what is not None else None
        return "unreachable" if known is not None and known.unreachable else "missing"

    def _row(self, number: int, row: Row) -> Reached:
        return self._word(self.names[(number, row)], (number, row))

    def wanted(self) -> set[Latched]:
        """Rows and marks worth a question: of conditions that were not shown, and of stages."""
        asked: set[Latched] = set()
        for number, decision in enumerate(self.instrumented.decisions):
            for pairs in decision.pairs:
                if self._best(number, pairs)[0] == "missing":
                    rows = [row for pair in pairs for row in pair if self._row(number, row) == "missing"]
                    asked.update((number, row) for row in dict.fromkeys(rows[:MOST_ROWS]))
        marks = [(name, what) for name, what in self.instrumented.latches.items() if isinstance(what, StageMark)]
        asked.update(what for name, what in marks if self._word(name) == "missing")
        return asked

    # ------------------------------------------------------------------ decisions

    def decision(self, number: int, decision: Decision) -> DecisionCoverage:
        conditions = [
            self._condition(number, decision, name, pairs)
            for name, pairs in zip(decision.names, decision.pairs, strict=True)
        ]
        rows = [RowCoverage(row, decision.outcome(row), self._row(number, row)) for row in decision.rows]
        return DecisionCoverage(decision.rung, decision.part, decision.span, tuple(conditions), tuple(rows))

    def _condition(self, number: int, decision: Decision, name: str, pairs: tuple[Pair, ...]) -> ConditionCoverage:
        word, pair = self._best(number, pairs)
        if pair is None:
            why = "no pair of rows differs in it alone" if not pairs else "every pair of it has a row that cannot come"
            return ConditionCoverage(name, "unreachable", why=why)
        shown = ConditionCoverage(name, word, *pair)
        if word != "missing":
            return shown
        lacking = tuple(row for row in pair if self._row(number, row) == "missing")
        known = [self.found.get((number, row), _NOTHING) for row in lacking]
        return replace(
            shown,
            lacking=lacking,
            inputs=tuple(row_words(decision.names, row) for row in lacking),
            stories=tuple(each.story for each in known),
            why=next((each.why for each in known if each.why), ""),
        )

    def _best(self, number: int, pairs: tuple[Pair, ...]) -> tuple[Reached, Pair | None]:
        """The pair that shows most: both rows by scenarios, both reached, fewest missing. None if none can come."""
        best: tuple[int, Reached, Pair] | None = None
        for pair in pairs:
            words = [self._row(number, row) for row in pair]
            if "unreachable" in words:
                continue
            missing = words.count("missing")
            word: Reached = "missing" if missing else "campaign" if "campaign" in words else "scenarios"
            # of two that lack as much, the one whose missing rows have a story
            stories = sum(self.found.get((number, row), _NOTHING).story is not None for row in pair)
            rank = 10 * missing + (word == "campaign") * 5 - stories
            if best is None or rank < best[0]:
                best = rank, word, pair
        return ("unreachable", None) if best is None else best[1:]

    # ------------------------------------------------------- stages, requirements

    def stages(self) -> Iterator[StageCoverage]:
        marks: dict[tuple[str, str], dict[str, Reached]] = {}
        for name, what in self.instrumented.latches.items():
            if isinstance(what, StageMark):
                marks.setdefault((what.rung, what.stage), {})[what.where] = self._word(name, what)
        for (rung, stage), words in marks.items():
            yield StageCoverage(rung, stage, words["below"], words["at"], words["past"])

    def requirements(self) -> Iterator[RequirementCoverage]:
        for requirement in self.program.requirements:
            marks = [mark.name for mark in marks_of(requirement)]
            told = tuple((name.partition("?")[2], self._word(name)) for name in marks)
            if told:
                yield RequirementCoverage(requirement.name, told)


_NOTHING = Sought(False)
