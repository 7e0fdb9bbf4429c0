"""What a check found: frozen results, in words, as JSON-ready dicts, as tables for a notebook.

No result ever says just 'passed': `simulated` means that no violation was found in so many
runs of a model, and nothing more.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.html import table
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Story

if TYPE_CHECKING:
    from rungproof.logic.proofs.certificate import Certificate

Word = Literal["proved", "exhausted", "simulated", "violated", "vacuous", "undecided"]

#: Stands with every list of verdicts, on screen and in JSON.
IN_THE_MODEL = "In the model; nothing was measured on a machine."

EXIT_FINE, EXIT_VIOLATED, EXIT_FILES_WRONG, EXIT_OPEN = 0, 1, 2, 3


@dataclass(frozen=True, slots=True)
class Nearest:
    """How near a violation came, in `runs` that were asked: `margin` in `unit`, `ms` for times."""

    margin: float
    unit: str | None
    runs: int

    def to_json(self) -> dict[str, Any]:
        return {"margin": self.margin, "unit": self.unit, "runs": self.runs}


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is known of one requirement, and where it was looked for.

    `reason` says in words why it is this word. `runs` and `simulated_ms` count the runs that
    watched this requirement, `triggers` the instants at which its trigger came. A `violated`
    one carries the story (`story_text` is its `scenario` block) and the first instant of
    violation in ms; `scenario` names the file's own scenario where that is the story. A proof
    carries its `certificate`. `nearest` says how near a violation came, where that was measured.
    """

    requirement: str
    sentence: str
    restatement: str
    word: Word
    looked_at: str
    fault_set: str
    outputs_free: bool
    reason: str
    triggers: int
    runs: int
    simulated_ms: int
    violated_at: int | None = None
    story_text: str | None = None
    story: Story | None = None
    scenario: str | None = None
    certificate: Certificate | None = None
    nearest: Nearest | None = None

    @property
    def because(self) -> tuple[str, ...]:
        """Why no run can violate it: the invariant in sentences; empty where nothing was proved."""
        return self.certificate.sentences if self.certificate is not None else ()

    @property
    def plainly_because(self) -> tuple[str, ...]:
        """Those of `because` that speak of the author's own names alone: what a reader is shown."""
        return self.certificate.plain if self.certificate is not None else ()

    @property
    def scope(self) -> str:
        """The scope in words: which faults, and whether the outputs were free."""
        return f"{self.fault_set}, outputs free" if self.outputs_free else self.fault_set

    def to_json(self) -> dict[str, Any]:
        return {
            "id": self.requirement,
            "sentence": self.sentence,
            "restatement": self.restatement,
            "verdict": self.word,
            "looked_at": self.looked_at,
            "fault_set": self.fault_set,
            "outputs_free": self.outputs_free,
            "reason": self.reason,
            "triggers": self.triggers,
            "runs": self.runs,
            "simulated_ms": self.simulated_ms,
            "violated_at_ms": self.violated_at,
            "scenario": self.scenario,
            "story": self.story_text,
            "because": list(self.because),
            "nearest_miss": None if self.nearest is None else self.nearest.to_json(),
        }

    def _repr_html_(self) -> str:
        return table(VERDICT_HEADS, [_verdict_row(self)], note=IN_THE_MODEL)


@dataclass(frozen=True, slots=True)
class ExpectationResult:
    """One `expect`: `met` is None where the run ended too early to say. `seen` says what was there at the
    instant that tells against it, where it was not met."""

    restatement: str
    met: bool | None
    seen: str = ""

    @property
    def words(self) -> str:
        return {True: "met", False: "not met", None: "undecided"}[self.met]

    def to_json(self) -> dict[str, Any]:
        return {"expectation": self.restatement, "met": self.met, "seen": self.seen}


@dataclass(frozen=True, slots=True)
class Mention:
    """A requirement that a scenario's run violates. `counts` says whether that is its verdict;
    `words` says why not, where it does not."""

    requirement: str
    violated_at: int
    counts: bool
    words: str

    def to_json(self) -> dict[str, Any]:
        return {
            "requirement": self.requirement,
            "violated_at_ms": self.violated_at,
            "counts": self.counts,
            "words": self.words,
        }


ScenarioWord = Literal["as expected", "not as expected", "undecided", "expects nothing"]


@dataclass(frozen=True, slots=True)
class ScenarioResult:
    """One scenario's run. `cut` says in words why the run ended early, if it did."""

    name: str
    expectations: tuple[ExpectationResult, ...]
    mentions: tuple[Mention, ...]
    ended_at: int
    cut: str | None = None

    @property
    def word(self) -> ScenarioWord:
        met = [e.met for e in self.expectations]
        if False in met:
            return "not as expected"
        if None in met:
            return "undecided"
        return "as expected" if met else "expects nothing"

    @property
    def violated(self) -> bool:
        """A failed expectation, or a requirement violated by this run alone."""
        return self.word == "not as expected" or any(m.counts for m in self.mentions)

    def to_json(self) -> dict[str, Any]:
        return {
            "scenario": self.name,
            "result": self.word,
            "expectations": [e.to_json() for e in self.expectations],
            "violations": [m.to_json() for m in self.mentions],
            "ended_at_ms": self.ended_at,
            "cut": self.cut,
        }

    def _repr_html_(self) -> str:
        return table(SCENARIO_HEADS, [_scenario_row(self)], note=IN_THE_MODEL)


@dataclass(frozen=True, slots=True)
class AssumptionResult:
    """How often an assumption cut a run. One that never did is worth a look: it may say nothing."""

    sentence: str
    restatement: str
    cut_runs: int
    runs: int

    @property
    def words(self) -> str:
        if self.cut_runs:
            return f"cut {self.cut_runs:,} of {self.runs:,} runs"
        return f"never bit: it cut none of {self.runs} runs, so nothing shows that it is needed"

    def to_json(self) -> dict[str, Any]:
        return {
            "sentence": self.sentence,
            "restatement": self.restatement,
            "cut_runs": self.cut_runs,
            "runs": self.runs,
            "words": self.words,
        }


@dataclass(frozen=True, slots=True)
class EnvelopeResult:
    """An assumption of proofs about the plant, and whether every run that was watched kept to it.

    `broken_at` (ms) and `story_text` show a run that did not; the proofs of `requirements` are void then.
    """

    number: int
    sentence: str
    because: str
    requirements: tuple[str, ...]
    runs: int
    broken_at: int | None = None
    story_text: str | None = None

    @property
    def words(self) -> str:
        behind = ", ".join(self.requirements)
        if self.broken_at is not None:
            return f"broken at {time_words(self.broken_at)} by the run below: what rests on it is void ({behind})"
        if not self.runs:
            return f"not watched in any run: it stands on the plant's lines alone; {behind} rests on it"
        return f"every one of {self.runs:,} runs kept to it; {behind} rests on it"

    def to_json(self) -> dict[str, Any]:
        return {
            "number": self.number,
            "says": self.sentence,
            "guaranteed_by": self.because,
            "requirements": list(self.requirements),
            "runs": self.runs,
            "broken_at_ms": self.broken_at,
            "story": self.story_text,
            "words": self.words,
        }


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two engines gave one story two outcomes: an internal error, never a verdict.

    `bundle` holds all that is needed to show it again: the files, the story, both answers.
    """

    requirement: str
    words: str
    bundle: dict[str, Any]

    def to_json(self) -> dict[str, Any]:
        return {"requirement": self.requirement, "words": self.words, "bundle": self.bundle}


@dataclass(frozen=True, slots=True)
class SearchFigures:
    """How much was searched. `cut_by_time`: the time ran out before the plan was done, so that
    a repetition may search another amount; otherwise same seed, same result."""

    seed: int
    engine: str
    planned_runs: int
    runs: int
    simulated_ms: int
    longest_run_ms: int
    cut_by_time: bool = False
    elapsed_s: float = field(default=0.0, compare=False)

    def to_json(self) -> dict[str, Any]:
        return {
            "seed": self.seed,
            "engine": self.engine,
            "planned_runs": self.planned_runs,
            "runs": self.runs,
            "simulated_ms": self.simulated_ms,
            "longest_run_ms": self.longest_run_ms,
            "cut_by_time": self.cut_by_time,
            "elapsed_s": round(self.elapsed_s, 3),
        }


@dataclass(frozen=True, slots=True)
class CheckResult:
    """The answer of `check`. `diagnoses` are the findings about the text, by place."""

    verdicts: tuple[Verdict, ...]
    scenarios: tuple[ScenarioResult, ...]
    assumptions: tuple[AssumptionResult, ...]
    searched: SearchFigures
    diagnoses: tuple[Diagnosis, ...] = ()
    disagreements: tuple[Disagreement, ...] = ()
    envelope: tuple[EnvelopeResult, ...] = ()

    @property
    def exit_code(self) -> int:
        """2: the files are wrong, or an internal error; 1: violated; 3: something open; else 0."""
        if self.disagreements or any(d.grade == "error" for d in self.diagnoses):
            return EXIT_FILES_WRONG
        if any(v.word == "violated" for v in self.verdicts) or any(s.violated for s in self.scenarios):
            return EXIT_VIOLATED
        undecided = any(s.word == "undecided" for s in self.scenarios)
        if undecided or any(v.word in ("undecided", "vacuous") for v in self.verdicts):
            return EXIT_OPEN
        return EXIT_FINE

    def verdict(self, requirement: str) -> Verdict:
        """The verdict of one requirement. Raises `KeyError` for an unknown name."""
        for verdict in self.verdicts:
            if verdict.requirement == requirement:
                return verdict
        raise KeyError(requirement)

    def to_json(self) -> dict[str, Any]:
        return {
            "note": IN_THE_MODEL,
            "requirements": [v.to_json() for v in self.verdicts],
            "scenarios": [s.to_json() for s in self.scenarios],
            "assumptions": [a.to_json() for a in self.assumptions],
            "envelope": [e.to_json() for e in self.envelope],
            "searched": self.searched.to_json(),
            "internal_errors": [d.to_json() for d in self.disagreements],
            "exit_code": self.exit_code,
        }

    def _repr_html_(self) -> str:
        verdicts = table(VERDICT_HEADS, [_verdict_row(v) for v in self.verdicts], note=IN_THE_MODEL)
        if not self.scenarios:
            return verdicts
        return verdicts + table(SCENARIO_HEADS, [_scenario_row(s) for s in self.scenarios])


VERDICT_HEADS = ("Requirement", "Verdict", "Sentence", "Restated", "Looked at", "Faults", "Why")
SCENARIO_HEADS = ("Scenario", "Result", "Expected", "Violated")


def _verdict_row(verdict: Verdict) -> tuple[str, ...]:
    return (
        verdict.requirement,
        verdict.word,
        verdict.sentence,
        verdict.restatement,
        verdict.looked_at,
        verdict.scope,
        verdict.reason,
    )


def _scenario_row(result: ScenarioResult) -> tuple[str, ...]:
    expected = "; ".join(f"{e.restatement}: {e.words}" for e in result.expectations)
    violated = "; ".join(_mention_words(mention) for mention in result.mentions)
    return (result.name, result.word, expected, violated)


def _mention_words(mention: Mention) -> str:
    words = f"{mention.requirement} at {time_words(mention.violated_at)}"
    return words if mention.counts else f"{words} ({mention.words})"
