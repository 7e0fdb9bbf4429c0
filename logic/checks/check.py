"""The check of a program: scenarios, search, shrinking, confirmation, verdicts."""

from __future__ import annotations

import math
import time
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.beside import outcomes_of, scenarios_beside
from rungproof.logic.checks.confirm import bundle_of, confirm, violated_at
from rungproof.logic.checks.engine_choice import name_of, search_engine
from rungproof.logic.checks.envelope import Envelope, envelope_of
from rungproof.logic.checks.hours import LongCampaign, chunks_of
from rungproof.logic.checks.passes import Bounds
from rungproof.logic.checks.plan import DEFAULT_TIME_S, NOMINAL, PATIENCE_S, Plan, plan_of
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.checks.proving import Proof, prove_all
from rungproof.logic.checks.record import Record, heading
from rungproof.logic.checks.scenarios import ScenarioRun, scenario_runs, tally_of, why_apart
from rungproof.logic.checks.search import Progress, Search, pickled
from rungproof.logic.checks.shrink import Shrinker, ended_at
from rungproof.logic.checks.standing import standing
from rungproof.logic.checks.stories import is_proper, tidy
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.tally import Count, Tally
from rungproof.logic.checks.verdict import AssumptionResult, CheckResult, Disagreement, SearchFigures, Verdict
from rungproof.logic.checks.verdicts import Violation, verdict_of
from rungproof.logic.checks.words import time_words
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.program import Program, Story

#: Where nobody gave a time, the search has at least so long, however long scenarios and proofs took.
LEAST_SEARCH_S = 13.0

#: Nominal seconds that shrinking one story may take.
SHRINK_S = 2.0

#: Seconds after which even an unhurried proof that got out of hand is ended; the result then says so.
UNHURRIED_S = 120.0

#: But so many runs it always gets: a long story is worth shrinking most.
LEAST_SHRINK_RUNS = 40


def check_program(
    program: Program,
    *,
    seed: int = 0,
    time_s: float | None = None,
    runs: int | None = None,
    engine: Engine | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
    diagnoses: tuple[Diagnosis, ...] = (),
    prove_s: float = 0.0,
    hours: float | None = None,
    record: Path | None = None,
    unhurried: bool = False,
) -> CheckResult:
    """Attack every requirement of a program and say what is known of each.

    `time_s`: seconds to search; the plan is sized by it and the clock cuts it there (None: a plan for
    `DEFAULT_TIME_S`, cut after `PATIENCE_S`, so that a busy machine, too, gets to its end). `runs`:
    at most so many runs of each length. `engine`: None is the fast one. `progress` is called
    with runs done, runs planned and what is being done. `executor`: any; the result does not
    depend on it. `diagnoses` are passed through to the result and count for its exit code.
    `prove_s`: seconds to try a proof of each requirement before the search, within `time_s`; 0
    leaves proofs out. `hours`: so many plant-hours of long runs beyond the plan, which no clock cuts;
    `record` is then the file that keeps what is done. Raises `RecordError` where it cannot be gone on with.
    `unhurried`: no clock ends anything that goes on; the plan bounds the search and steps bound the proofs, so
    that the same files and the same seed give the same result however busy the machine is.
    """
    check = _Check(program, seed, time_s, runs, engine, progress, executor, prove_s, unhurried)
    if hours is None or record is None:
        return check.run(diagnoses)
    check.hours, check.record = hours, Record(record, heading(program, seed, hours))
    try:
        return check.run(diagnoses)
    finally:
        check.record.close()


@dataclass(slots=True)
class _Check:
    program: Program
    seed: int
    time_s: float | None
    runs: int | None
    engine: Engine | None
    progress: Progress | None
    executor: Executor | None
    prove_s: float
    unhurried: bool = False
    hours: float = 0.0
    record: Record | None = None
    proofs: dict[str, Proof] = field(default_factory=dict)
    envelope: Envelope = field(default_factory=Envelope)
    tally: Tally = field(default_factory=Tally)
    violations: dict[str, Violation] = field(default_factory=dict)
    disagreements: dict[str, Disagreement] = field(default_factory=dict)

    def run(self, diagnoses: tuple[Diagnosis, ...]) -> CheckResult:
        began = time.time()
        profile = profile_of(self.program)
        time_s = DEFAULT_TIME_S if self.time_s is None else self.time_s
        whole = plan = self._plan_for(self.program, time_s)
        scenarios = self._scenarios_and_proofs(profile, plan)
        if self.record is None:
            # What is decided needs no runs of its own; a record is of one plan, whatever the proofs came to.
            left = self._left_to_search()
            plan = self._plan_for(left, time_s) if left.requirements else plan
        patience = PATIENCE_S if self.record is None else math.inf
        patience = patience if self.time_s is None else self.time_s
        until = began + (math.inf if self.unhurried else patience)
        if self.time_s is None:
            until = max(until, time.time() + LEAST_SEARCH_S)
        cut = self._search(profile, plan, until)
        planned = plan.runs + (self._go_on(profile, whole, self.record) if self.record is not None else 0)
        figures = SearchFigures(
            seed=self.seed,
            engine=plan.cost.engine,
            planned_runs=planned,
            runs=self.tally.runs,
            simulated_ms=self.tally.simulated_ms,
            longest_run_ms=self.tally.longest_ms,
            cut_by_time=cut,
            elapsed_s=time.time() - began,
        )
        return CheckResult(
            verdicts=tuple(self._verdict(requirement.name) for requirement in self.program.requirements),
            scenarios=tuple(run.result for run in scenarios),
            assumptions=self._assumptions(),
            searched=figures,
            diagnoses=diagnoses,
            disagreements=tuple(self.disagreements.values()),
            envelope=self.envelope.results(self.tally.counts, self.violations),
        )

    @property
    def watched(self) -> Program:
        """The program with what its proofs assume of the plant."""
        return self.envelope.around(self.program)

    # ---------------------------------------------------- scenarios and proofs

    def _scenarios_and_proofs(self, profile: Profile, plan: Plan) -> list[ScenarioRun]:
        """The file's scenarios, and what can be decided for every input: side by side where that pays.

        The result is the same as one after the other: a requirement that a scenario violates has no proof.
        """
        if self.prove_s <= 0:
            return self._scenarios(plan)
        with scenarios_beside(self.program, self.engine) as results:
            scenarios = None if results is not None else self._scenarios(plan)
            left = [r.name for r in self.program.requirements if r.name not in self.violations]
            seconds = UNHURRIED_S if self.unhurried else self.prove_s
            if self.progress is not None and left:
                self.progress(0, len(left), "proving")
            proofs = prove_all(self.program, left, seconds, self.progress, rationed=self.unhurried)
            if scenarios is None and results is not None:
                scenarios = self._noted(results())
        self.proofs = {name: proof for name, proof in proofs.items() if name not in self.violations}
        for name, proof in self.proofs.items():
            if proof.story is not None:
                self._believe(profile, plan, name, proof.story, proof.at)
        self.envelope = envelope_of(self.program, self.proofs)
        self._scenarios_in_envelope(profile, plan)
        return scenarios or []

    def _scenarios(self, plan: Plan) -> list[ScenarioRun]:
        """Run one after the other, here."""
        done: list[ScenarioRun] = []
        for scenario in self.program.scenarios:
            if self.progress is not None:
                self.progress(0, plan.runs, f'scenario "{scenario.name}"')
            done += scenario_runs(self.program, self.engine, [scenario])
        return self._noted(done)

    def _noted(self, done: list[ScenarioRun]) -> list[ScenarioRun]:
        for run in done:
            for disagreement in run.disagreements:
                self.disagreements[disagreement.requirement] = disagreement
            for name, (story, at) in run.violated.items():
                self.violations.setdefault(name, self._violation(name, story, at, run.scenario.name))
        self.tally.add(tally_of(self.program, done))
        return done

    def _scenarios_in_envelope(self, profile: Profile, plan: Plan) -> None:
        """Run the file's scenarios once more, for what the proofs assume; and runs in which all stands on and off."""
        if not self.envelope.names:
            return
        program = self.watched
        stories = [scenario.story for scenario in program.scenarios]
        longest = max((each.horizon for each in self.envelope.facts), default=0)
        for free in sorted({each.outputs_free for each in self.envelope.watched}):
            stories += standing(profile, longest, free=free)
        outcomes = outcomes_of(program, self.engine, stories, self.envelope.names)
        for story, outcome in zip(stories, outcomes, strict=True):
            for watched in self.envelope.watched:
                at = outcome.judgements[watched.name].violated_at
                known = watched.name in self.violations
                if at is not None and not known and why_apart(program, watched, story) is None:
                    self._believe(profile, plan, watched.name, story, at)
            only = Tally()
            only.take(program, story, outcome)
            for name, count in only.counts.items():
                self.tally.counts.setdefault(name, Count()).add(count)

    # ------------------------------------------------------------------ search

    def _search(self, profile: Profile, plan: Plan, until: float) -> bool:
        wanted = frozenset(requirement.name for requirement in self._left_to_search().requirements)
        if not wanted:
            return False
        near = wanted - self.envelope.names
        search = Search(
            self.watched, profile, plan, self.seed, self.engine, until, wanted, self.progress, self.executor, near
        )
        found = search.run()
        self.tally.add(found.tally)
        for name, (story, at) in sorted(found.violations.items()):
            if name in wanted:
                if self.progress is not None:
                    self.progress(self.tally.runs, plan.runs, f"making the story against {name} shorter")
                self._believe(profile, plan, name, story, at)
        return found.cut_by_time

    def _go_on(self, profile: Profile, plan: Plan, record: Record) -> int:
        """The hours beyond the plan; returns how many runs they are."""
        chunks = chunks_of(plan, self.hours)
        planned, before = sum(chunk.count for chunk in chunks), self.tally.runs

        def told(runs: int, ms: int) -> None:
            if self.progress is not None:
                words = f"{ms / 3_600_000:.3g} of {self.hours:.6g} plant-hours"
                self.progress(before + runs, plan.runs + planned, words)

        campaign = LongCampaign(
            self.watched, profile, self.seed, chunks, record, pickled(self.watched), self.executor, told
        )
        self.tally.add(campaign.run())
        for name, (story, at) in sorted(campaign.violations().items()):
            if name not in self.violations:  # one that was proved, too: the reference engine decides
                self._believe(profile, plan, name, story, at)
        return planned

    def _plan_for(self, program: Program, time_s: float) -> Plan:
        """What is run for the requirements of `program`."""
        return plan_of(program, profile_of(program), time_s=time_s, engine=name_of(self.engine), runs=self.runs)

    def _left_to_search(self) -> Program:
        """The program with the requirements that nothing has decided; what rests on the envelope is searched, should a
        run leave that."""
        proved = {name for name, proof in self.proofs.items() if proof.word is not None} - self.envelope.dependents
        decided = proved | self.violations.keys()
        left = tuple(each for each in self.watched.requirements if each.name not in decided)
        return replace(self.watched, requirements=left)

    def _believe(self, profile: Profile, plan: Plan, name: str, story: Story, at: int) -> None:
        """Shrink a story and replay it in the reference engine: only then is it a violation."""
        shrunk = self._shrunk(profile, plan, name, ended_at(story, at))
        at = shrunk.duration_ms
        disagreement = _beside_the_point(self.watched, shrunk, name)
        disagreement = disagreement or confirm(self.watched, shrunk, name, at, self.engine)
        if disagreement is None:
            self.violations[name] = self._violation(name, shrunk, at)
        else:
            self.disagreements[name] = disagreement

    def _shrunk(self, profile: Profile, plan: Plan, name: str, story: Story) -> Story:
        engine = self.engine or search_engine(self.watched)
        affordable = SHRINK_S * NOMINAL[plan.cost.engine] / plan.cost.of(story.duration_ms)
        runs = max(LEAST_SHRINK_RUNS, int(affordable))
        shrinker = Shrinker(
            violates=lambda story: violated_at(engine, self.watched, story, name),
            proper=partial(is_proper, self.program),
            tidy=partial(tidy, self.program),
            bounds=Bounds(profile.step, profile.scan, profile.knobs),
            best=tidy(self.program, story),
            limit_ms=runs * story.duration_ms,
        )
        return shrinker.shrink()

    def _violation(self, name: str, story: Story, at: int, scenario: str | None = None) -> Violation:
        title = f"violated at {time_words(at)}"
        return Violation(story, story_block(self.watched, story, title, name), at, scenario)

    # ----------------------------------------------------------------- answers

    def _verdict(self, name: str) -> Verdict:
        requirement = next(r for r in self.program.requirements if r.name == name)
        trouble = self.disagreements[name].words if name in self.disagreements else None
        count = self.tally.counts.get(name, Count())
        proof = self.proofs.get(name)
        if proof is not None:
            proof = self.envelope.settled(name, proof, self.violations)
        if trouble is None and proof is not None and proof.trouble is not None:
            trouble = proof.trouble
        return verdict_of(requirement, count, self.violations.get(name), trouble, proof)

    def _assumptions(self) -> tuple[AssumptionResult, ...]:
        return tuple(
            AssumptionResult(a.sentence, a.restatement, self.tally.cut.get(place, 0), self.tally.runs)
            for place, a in enumerate(self.program.assumptions)
        )


def _beside_the_point(program: Program, story: Story, name: str) -> Disagreement | None:
    """None if a story speaks of a requirement: no run outside its scope may be held against it, whoever found it."""
    apart = why_apart(program, next(each for each in program.requirements if each.name == name), story)
    if apart is None:
        return None
    words = f"internal error: a run was held against {name} ({apart}); please report it with this bundle"
    return Disagreement(name, words, bundle_of(program, story, name, {"held against it": story.duration_ms}))
