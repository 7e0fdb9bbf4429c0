"""A campaign of so many plant-hours beyond the plan: numbered long runs, in chunks that stand alone.

What is run hangs on the program, the seed and the hours; chunks know nothing of each other, so
that neither their order nor the executor nor a kill in between plays a part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass, field
from functools import cache
from typing import Any

from rungproof.logic.checks.batch import unpacked
from rungproof.logic.checks.campaign import fault_of, long_story
from rungproof.logic.checks.compose import Shape
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.parent import can_fork, forked_pool
from rungproof.logic.checks.plan import NOMINAL, Group, Plan
from rungproof.logic.checks.profile import Profile
from rungproof.logic.checks.record import Record
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.tally import Count, Tally
from rungproof.logic.engines.contract import Outcome
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.meaning.program import Program, Story

#: Runs of a campaign last that many times the plan's longest of their group, and at least so long (ms).
LONGER, LEAST_MS = 2, 60_000

#: From so many runs of a group on they go side by side as lanes, so many at once: measured on the
#: header tank, 256 lanes are as quick as single runs, 1024 more than twice as quick.
LANES_FROM, LANES = 512, 1024

#: Nominal seconds of a chunk of single runs.
CHUNK_S = 4.0

#: The plain group's part of the hours, in parts of which the others get one each.
PLAIN_PARTS = 2

#: Chunks under way at once.
AHEAD = 4


@dataclass(frozen=True, slots=True)
class Chunk:
    """Long runs `first` to `first + count - 1` of a group, `length_ms` each."""

    number: int
    group: Group
    first: int
    count: int
    length_ms: int


@dataclass(frozen=True, slots=True)
class ChunkTask:
    """A chunk for another process: `program` is pickled."""

    program: bytes
    watch: frozenset[str]
    scenarios: tuple[Story, ...]
    seed: int
    chunk: Chunk


@dataclass(slots=True)
class ChunkResult:
    """`violations`: by requirement the first run that violates it, and its instant (ms)."""

    tally: Tally = field(default_factory=Tally)
    violations: dict[str, tuple[int, int]] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        return {"tally": asdict(self.tally), "violations": {k: list(v) for k, v in self.violations.items()}}

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> ChunkResult:
        counts = {name: Count(**_tuples(count)) for name, count in told["tally"]["counts"].items()}
        cut = {int(place): runs for place, runs in told["tally"]["cut"].items()}
        tally = Tally(**{**told["tally"], "counts": counts, "cut": cut})
        return cls(tally, {name: (run, at) for name, (run, at) in told["violations"].items()})


def _tuples(told: Mapping[str, Any]) -> dict[str, Any]:
    """JSON knows lists only."""
    return {key: tuple(value) if isinstance(value, list) else value for key, value in told.items()}


def chunks_of(plan: Plan, hours: float) -> tuple[Chunk, ...]:
    """The chunks of a campaign of so many plant-hours; it begins where the plan's long runs end."""
    groups = list(dict.fromkeys(tier.group for tier in plan.tiers))
    parts = [PLAIN_PARTS if group == groups[0] else 1 for group in groups]
    made: list[Chunk] = []
    for group, part in zip(groups, parts, strict=True):
        tiers = [tier for tier in plan.tiers if tier.group == group]
        done = sum(tier.runs for tier in tiers if tier.long)
        length = max(LEAST_MS, LONGER * max(max(tier.lengths) for tier in tiers))
        length -= length % plan.cost.instant_ms
        runs = -int(-hours * 3_600_000 * part / sum(parts) // length)
        single = max(1, int(CHUNK_S * NOMINAL[plan.cost.engine] / plan.cost.of(length)))
        # Lanes in chunks of equal size: a small rest would run singly, for long.
        most = -(-runs // -(-runs // LANES)) if runs >= LANES_FROM else min(single, LANES_FROM - 1)
        for at in range(0, runs, most):
            made.append(Chunk(len(made), group, done + at, min(most, runs - at), length))
    return tuple(made)


def story_of(profile: Profile, scenarios: Sequence[Story], seed: int, chunk: Chunk, number: int) -> Story:
    """The story of one run of a chunk."""
    fault = fault_of(profile, seed, number) if chunk.group.faulty else None
    return long_story(profile, scenarios, seed, number, Shape(chunk.length_ms, fault, chunk.group.free))


def run_chunk(task: ChunkTask) -> ChunkResult:
    """Work off a chunk, here or in another process."""
    program, profile = unpacked(task.program)
    return work_off(program, profile, task)


def work_off(program: Program, profile: Profile, task: ChunkTask) -> ChunkResult:
    """`run_chunk` for a program at hand."""
    chunk, result = task.chunk, ChunkResult()
    numbers = range(chunk.first, chunk.first + chunk.count)
    stories = [tidy(program, story_of(profile, task.scenarios, task.seed, chunk, number)) for number in numbers]
    for number, story, outcome in zip(numbers, stories, _outcomes(program, stories, task.watch), strict=True):
        result.tally.take(program, story, outcome)
        for name, judgement in outcome.judgements.items():
            if judgement.violated_at is not None:
                result.violations.setdefault(name, (number, judgement.violated_at))
    return result


@cache
def _lanes() -> LanesEngine:
    return LanesEngine()


def _outcomes(program: Program, stories: Sequence[Story], watch: frozenset[str]) -> Iterator[Outcome]:
    """All engines say the same; the many go side by side."""
    if len(stories) >= LANES_FROM:
        yield from _lanes().run_many(program, stories, watch=watch)
    else:
        for story in stories:
            yield fast_engine().run(program, story, watch=watch)


@dataclass(slots=True)
class LongCampaign:
    """A campaign under way. `program_bytes` None: it cannot go to another process. `told` hears of runs and ms done."""

    program: Program
    profile: Profile
    seed: int
    chunks: tuple[Chunk, ...]
    record: Record
    program_bytes: bytes | None
    executor: Executor | None = None
    told: Callable[[int, int], None] = lambda runs, ms: None

    def run(self) -> Tally:
        """Everything counted, in the order of chunks; what the record holds is not run again."""
        found = {n: ChunkResult.from_json(told) for n, told in self.record.found.items()}
        runs = sum(result.tally.runs for result in found.values())
        ms = sum(result.tally.simulated_ms for result in found.values())
        self.told(runs, ms)
        for number, result in self._results([c for c in self.chunks if c.number not in found]):
            self.record.append(number, result.to_json())
            found[number] = result
            runs, ms = runs + result.tally.runs, ms + result.tally.simulated_ms
            self.told(runs, ms)
        whole = Tally()
        for chunk in self.chunks:
            whole.add(found[chunk.number].tally)
        return whole

    def violations(self) -> dict[str, tuple[Story, int]]:
        """By requirement the story of the first chunk and run that violates it, and its instant (ms)."""
        scenarios = [scenario.story for scenario in self.program.scenarios]
        found: dict[str, tuple[Story, int]] = {}
        for chunk in self.chunks:
            result = ChunkResult.from_json(self.record.found[chunk.number])
            for name, (number, at) in result.violations.items():
                if name not in found:
                    found[name] = (story_of(self.profile, scenarios, self.seed, chunk, number), at)
        return found

    def _results(self, chunks: Sequence[Chunk]) -> Iterator[tuple[int, ChunkResult]]:
        """Results as they come, a few chunks under way at once."""
        if not chunks:
            return
        scenarios = tuple(scenario.story for scenario in self.program.scenarios)
        left = [self._task(chunk, scenarios) for chunk in reversed(chunks)]
        with self._workers() as workers:
            under_way: dict[Future[ChunkResult], int] = {}
            while left or under_way:
                while left and len(under_way) < AHEAD:
                    task = left.pop()
                    if self.program_bytes is None:
                        future = workers.submit(work_off, self.program, self.profile, task)
                    else:
                        future = workers.submit(run_chunk, task)
                    under_way[future] = task.chunk.number
                for future in wait(under_way, return_when=FIRST_COMPLETED).done:
                    yield under_way.pop(future), future.result()

    def _task(self, chunk: Chunk, scenarios: tuple[Story, ...]) -> ChunkTask:
        return ChunkTask(self.program_bytes or b"", chunk.group.watches(self.program), scenarios, self.seed, chunk)

    def _workers(self) -> AbstractContextManager[Executor]:
        if self.program_bytes is None:
            return ThreadPoolExecutor(1)
        if self.executor is not None:
            return nullcontext(self.executor)
        return forked_pool(2) if can_fork() else ThreadPoolExecutor(1)
