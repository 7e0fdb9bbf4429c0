"""The search for stories that violate: hypothesis on short ones first, then a campaign by plan.

Everything is decided by the program, the seed and the plan; the clock can only cut it short,
and the result says so. The executor plays no part: rounds are made of fixed batches.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial

from rungproof.logic.checks.batch import BatchResult, BatchTask, Job, run_batch, run_jobs
from rungproof.logic.checks.campaign import fault_of
from rungproof.logic.checks.compose import Shape
from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.driven import DrivenTask, drive_here, run_driven
from rungproof.logic.checks.engine_choice import is_large, search_engine
from rungproof.logic.checks.parent import can_fork, forked_pool
from rungproof.logic.checks.plan import NOMINAL, Group, Plan, Tier
from rungproof.logic.checks.profile import Profile
from rungproof.logic.checks.tally import Tally
from rungproof.logic.checks.wide import WideTask, run_wide, work_off_wide
from rungproof.logic.checks.words import span_words
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.program import AfterNever, AtMost, Before, Program, Stood, Story, Whenever

#: `progress(done, total, words)`: runs done and planned, and what is being done.
Progress = Callable[[int, int, str], None]

#: Batches of one round; fixed, so that one process and many give the same result.
BATCHES = 4

#: Nominal seconds of one batch, and its most jobs: what a round reached, the next one grows from.
BATCH_S, MOST_JOBS = 0.5, 128

#: A plan shorter than this (nominal seconds) is not worth a second process.
PARALLEL_FROM_S = 2.0

#: Nor is one that takes a large program to another process, below this.
LARGE_FROM_S = 60.0

#: Hypothesis' share of the runs of the shortest tier, at most.
MOST_DRIVEN = 120

#: Share of the time that is left which any part of the search may take, however small it is.
SLACK = 0.05

#: What a story of its costs beside the run, in elements.
DRIVEN_COST = 300_000

#: So many stories it gets at least for each fault; other faults are left to the campaign.
LEAST_DRIVEN = 15

#: In how many of eight cases a story grows from another: of the shortest runs, of longer ones.
GROWN = (4, 7)

#: Stories kept to grow others from.
CORPUS = 200


@dataclass(slots=True)
class Found:
    """What the search found. `violations`: by requirement, a story and its instant (ms)."""

    tally: Tally = field(default_factory=Tally)
    violations: dict[str, tuple[Story, int]] = field(default_factory=dict)
    cut_by_time: bool = False


@dataclass(frozen=True, slots=True)
class _Workers:
    """All kinds of work; results come in the order of their tasks."""

    driven: Callable[[list[DrivenTask]], Iterator[BatchResult]]
    batches: Callable[[list[BatchTask]], Iterator[BatchResult]]
    wide: Callable[[list[WideTask]], Iterator[BatchResult]]


def _on(executor: Executor) -> _Workers:
    return _Workers(
        lambda tasks: iter(list(executor.map(run_driven, tasks))),
        lambda tasks: iter(list(executor.map(run_batch, tasks))),
        lambda tasks: iter(list(executor.map(run_wide, tasks))),
    )


@dataclass(slots=True)
class Search:
    """One search. `engine` None is the fast engine; `until` is a time of `time.time()`; `wanted` are the
    requirements to violate, `near` those of which the nearest miss is to be measured."""

    program: Program
    profile: Profile
    plan: Plan
    seed: int
    engine: Engine | None
    until: float
    wanted: frozenset[str]
    progress: Progress | None = None
    executor: Executor | None = None
    near: frozenset[str] = frozenset()
    found: Found = field(default_factory=Found)
    corpora: dict[Group, dict[str, Story]] = field(default_factory=dict)
    driven: dict[Group, int] = field(default_factory=dict)

    def run(self) -> Found:
        """Search until the plan is done, the time is out, or every wanted requirement is violated.

        Short runs of every group come first, then the long ones side by side, then single long runs.
        """
        end, cost = self.until, self.plan.cost
        groups = dict.fromkeys(tier.group for tier in self.plan.tiers)
        tiers = {group: tuple(tier for tier in self.plan.tiers if tier.group == group) for group in groups}
        first = {group: tiers[group][0] for group in groups}
        driven = sum(_driven(tier) * (cost.of(tier.lengths[0]) + DRIVEN_COST) for tier in first.values())
        parts: list[tuple[float, Callable[[], None]]] = [(cost.seconds(driven), partial(self._drive, first))]
        parts += [(Plan((first[group],), cost).seconds, partial(self._short, group, first[group])) for group in groups]
        parts += [(Plan((), cost, self.plan.wide).seconds, self._wide)]
        longer = {group: tiers[group][1:] for group in groups}
        parts += [(Plan(longer[group], cost).seconds, partial(self._longer, group, longer[group])) for group in groups]
        left = sum(seconds for seconds, _ in parts)
        for seconds, work in parts:
            # Where the time runs short, no part may use up what belongs to the others; but a small one is mostly
            # the start of its processes, which the plan does not count.
            share = SLACK + (1 - SLACK) * seconds / max(left, seconds, 1e-9)
            self.until = time.time() + max(0.0, end - time.time()) * share
            left -= seconds
            work()
        return self.found

    def _short(self, group: Group, tier: Tier) -> None:
        first = 1_000_000 * (2 * group.faulty + group.free)
        self._campaign(group, list(self._jobs(group, tier, tier.runs - self.driven.get(group, 0), first, GROWN[0])))

    def _longer(self, group: Group, tiers: Sequence[Tier]) -> None:
        """The longest first: where the time runs short, nothing else stands in for them."""
        jobs: list[Job] = []
        for tier in sorted(tiers, key=lambda tier: not tier.long):
            first = 1_000_000 * (2 * group.faulty + group.free) + 500_000 + len(jobs)
            jobs += self._jobs(group, tier, tier.runs, first, GROWN[1])
        self._campaign(group, jobs)

    # -------------------------------------------------------------- hypothesis

    def _drive(self, tiers: Mapping[Group, Tier]) -> None:
        """Short stories of every group, driven by Hypothesis."""
        program, engine = self._sent()
        began, in_turn, tasks = time.time(), not program, dict[Group, DrivenTask]()
        for place, (group, tier) in enumerate(tiers.items(), 1):
            watch, stories = group.watches(self.program), _driven(tier)
            faults = self._faults(max(1, stories // LEAST_DRIVEN), group)
            if stories < len(faults) or self._over(watch):
                continue
            tasks[group] = DrivenTask(
                program=program,
                engine=engine,
                watch=watch,
                wanted=watch & self.wanted,
                climb=watch & _with_trigger(self.program),
                shapes=tuple(Shape(tier.lengths[0], fault, group.free) for fault in faults),
                stories=stories // len(faults),
                seed=self.seed,
                until=began + (self.until - began) * place / len(tiers) if in_turn else self.until,
            )
        if not tasks:
            return
        with self._workers() as workers:
            for group, result in zip(tasks, workers.driven(list(tasks.values())), strict=True):
                self._merge(result)
                self.driven[group] = result.tally.runs
        self._tell("short stories")

    # ---------------------------------------------------------------- campaign

    def _campaign(self, group: Group, jobs: list[Job]) -> None:
        watch = group.watches(self.program)
        if not jobs:
            return
        with self._workers() as workers:
            for tasks in self._rounds(group, jobs):
                if self._over(watch):
                    return
                for result in workers.batches(tasks):
                    self._merge(result, group)
                longest = max(job.shape.length_ms for task in tasks for job in task.jobs)
                self._tell(f"runs of {span_words(longest)}")

    def _jobs(self, group: Group, tier: Tier, runs: int, number: int, grown: int) -> Iterator[Job]:
        """A tier's runs, numbered from `number` on; those of one fault together, for each is generated anew."""
        faults = self._faults(max(0, runs), group)
        for run in range(runs):
            length, fault = tier.lengths[run % len(tier.lengths)], faults[run * len(faults) // runs]
            if tier.long and group.faulty:
                fault = fault_of(self.profile, self.seed, run)
            yield Job(number + run + 1, Shape(length, fault, group.free), grown, run if tier.long else None)

    def _faults(self, runs: int, group: Group) -> tuple[str | None, ...]:
        """The faults for so many runs: all, or a seeded choice where there are fewer runs than faults."""
        if not group.faulty or not self.profile.faults:
            return (None,)
        left = list(self.profile.faults)
        draws = SeededDraws(self.seed, runs)
        chosen = {left.pop(draws.below(len(left))) for _ in range(max(1, min(len(left), runs)))}
        return tuple(fault for fault in self.profile.faults if fault in chosen)

    def _rounds(self, group: Group, jobs: list[Job]) -> Iterator[list[BatchTask]]:
        """Rounds of `BATCHES` batches. What one round reached, the next may grow from."""
        program, engine = self._sent()
        scenarios = tuple(scenario.story for scenario in self.program.scenarios)
        batches = list(_sized(self.plan, jobs))
        for start in range(0, len(batches), BATCHES):
            yield [
                BatchTask(
                    program=program,
                    engine=engine,
                    watch=group.watches(self.program),
                    jobs=batch,
                    seed=self.seed,
                    scenarios=scenarios,
                    corpus=tuple(self._corpus(group).values())[-CORPUS:],
                    seen=frozenset(self._corpus(group)),
                    until=self.until,
                )
                for batch in batches[start : start + BATCHES]
            ]

    @contextmanager
    def _workers(self) -> Iterator[_Workers]:
        """A way to run batches: here, on the executor given, or on processes of our own."""
        if self._in_process():
            engine, program, profile = self.engine or search_engine(self.program), self.program, self.profile
            yield _Workers(
                lambda tasks: (drive_here(program, profile, engine, task) for task in tasks),
                lambda tasks: (run_jobs(program, profile, engine, task) for task in tasks),
                lambda tasks: (work_off_wide(program, profile, task) for task in tasks),
            )
        elif self.executor is not None:
            yield _on(self.executor)
        else:
            with forked_pool(2) as pool:
                yield _on(pool)

    def _sent(self) -> tuple[bytes, bytes | None]:
        """Program and engine as tasks take them along; of a program that stays in this process nothing."""
        program = b"" if self._in_process() else pickled(self.program) or b""
        return program, None if self.engine is None else pickled(self.engine)

    def _in_process(self) -> bool:
        """Whether processes would not pay, cannot be had without the caller's help, or cannot be told."""
        if self.executor is None:
            if not can_fork() or self.plan.seconds < PARALLEL_FROM_S:
                return True
            if is_large(self.program) and self.plan.seconds < LARGE_FROM_S:
                return True
        return pickled(self.program) is None or (self.engine is not None and pickled(self.engine) is None)

    # -------------------------------------------------------------- side by side

    def _wide(self) -> None:
        """Long runs of every group at once, as far as something is still to be found out by them."""
        left = self.wanted.difference(self.found.violations)
        watches = [left & frozenset().union(*(g.watches(self.program) for g, _ in w.runs)) for w in self.plan.wide]
        if self.engine is not None or not any(watches) or self._over(left):
            return
        program, _ = self._sent()
        scenarios = tuple(scenario.story for scenario in self.program.scenarios)
        tasks = [
            WideTask(program, width, place, watch, watch & self.near, scenarios, self.seed, self.until)
            for place, (width, watch) in enumerate(zip(self.plan.wide, watches, strict=True))
            if watch
        ]
        with self._workers() as workers:
            self._tell("long runs side by side")
            for result in workers.wide(tasks):
                self._merge(result)
        self._tell("long runs side by side")

    # ------------------------------------------------------------------ common

    def _corpus(self, group: Group) -> dict[str, Story]:
        """By state that runs of the group ended in, the story that first did."""
        return self.corpora.setdefault(group, {})

    def _merge(self, result: BatchResult, group: Group | None = None) -> None:
        self.found.tally.add(result.tally)
        for name, (_, story, at) in result.violations.items():
            self.found.violations.setdefault(name, (story, at))
        if group is not None:
            for state, story in result.reached.items():
                self._corpus(group).setdefault(state, story)
        self.found.cut_by_time |= result.cut

    def _over(self, watch: frozenset[str]) -> bool:
        """Whether nothing is left to find, or no time."""
        if watch & self.wanted <= self.found.violations.keys():
            return True
        if time.time() > self.until:
            self.found.cut_by_time = True
            return True
        return False

    def _tell(self, words: str) -> None:
        if self.progress is not None:
            self.progress(self.found.tally.runs, self.plan.runs, words)


def _driven(tier: Tier) -> int:
    """How many of the runs of a group's shortest tier are Hypothesis'."""
    return min(MOST_DRIVEN, tier.runs // 2)


def _sized(plan: Plan, jobs: Sequence[Job]) -> Iterator[tuple[Job, ...]]:
    """Consecutive jobs in batches of about equal work."""
    most = BATCH_S * NOMINAL[plan.cost.engine]
    batch: list[Job] = []
    work = 0.0
    for job in jobs:
        batch.append(job)
        work += plan.cost.of(job.shape.length_ms)
        if work >= most or len(batch) == MOST_JOBS:
            yield tuple(batch)
            batch, work = [], 0.0
    if batch:
        yield tuple(batch)


def pickled(what: object) -> bytes | None:
    """Pickled, or None for what cannot be: a user's own part, an engine made in a test."""
    try:
        return pickle.dumps(what)
    except (pickle.PicklingError, AttributeError, TypeError):
        return None


def _with_trigger(program: Program) -> frozenset[str]:
    """The requirements that say nothing until something happens."""
    forms = (Whenever, Stood, AfterNever, AtMost, Before)
    return frozenset(r.name for r in program.requirements if isinstance(r.form, forms))
