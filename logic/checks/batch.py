"""A batch of runs: what one process works off by itself, the same wherever it runs.

A batch knows its jobs, its seed and what was found before it began; it tells what it found.
Batches of one round know nothing of each other, so that their order plays no part.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

from rungproof.logic.checks.campaign import long_story
from rungproof.logic.checks.compose import Shape, compose
from rungproof.logic.checks.draws import SeededDraws, chance, pick
from rungproof.logic.checks.engine_choice import LANES_FROM, lanes_engine, search_engine
from rungproof.logic.checks.extend import extend
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.tally import Tally
from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.meaning.program import Program, Story


@dataclass(frozen=True, slots=True)
class Job:
    """One run: its number (the seed of its choices) and the shape of its story.

    `grown`: in how many of eight cases it grows from a scenario or from a story that reached
    something; else it is fresh. `long`: its number among the long runs; None for others.
    """

    number: int
    shape: Shape
    grown: int
    long: int | None = None


@dataclass(frozen=True, slots=True)
class BatchTask:
    """`program` and `engine` are pickled; None is the fast engine. `corpus` are stories to grow
    from, `seen` the states known to be reached. `until` is the time (of `time.time()`) at which
    the batch gives up."""

    program: bytes
    engine: bytes | None
    watch: frozenset[str]
    jobs: tuple[Job, ...]
    seed: int
    scenarios: tuple[Story, ...]
    corpus: tuple[Story, ...]
    seen: frozenset[str]
    until: float


@dataclass(slots=True)
class BatchResult:
    """`violations`: by requirement, the story with the lowest job number. `reached`: stories that
    ended in a state not seen before, with that state. `cut`: the time ran out."""

    tally: Tally = field(default_factory=Tally)
    violations: dict[str, tuple[int, Story, int]] = field(default_factory=dict)
    reached: dict[str, Story] = field(default_factory=dict)
    cut: bool = False

    def take(self, program: Program, number: int, story: Story, outcome: Outcome) -> Story:
        """Note what one run shows; the story as far as it was run, which a clock may have cut."""
        if outcome.ended_at < story.duration_ms and outcome.assumption_broken is None:
            self.cut, story = True, replace(story, duration_ms=max(1, outcome.ended_at))
        self.tally.take(program, story, outcome)
        for name, judgement in outcome.judgements.items():
            if judgement.violated_at is not None and name not in self.violations:
                self.violations[name] = (number, story, judgement.violated_at)
        return story


@lru_cache(maxsize=4)
def unpacked(program: bytes) -> tuple[Program, Profile]:
    """A program that was pickled, and its profile; kept, because many batches bring the same."""
    loaded: Program = pickle.loads(program)
    return loaded, profile_of(loaded)


@lru_cache(maxsize=4)
def _engine(engine: bytes) -> Engine:
    loaded: Engine = pickle.loads(engine)
    return loaded


def engine_of(program: Program, engine: bytes | None) -> Engine:
    """An engine that was pickled; the fast one for None."""
    return search_engine(program) if engine is None else _engine(engine)


def run_batch(task: BatchTask) -> BatchResult:
    """Work off a batch. Run in this process or another, the result is the same."""
    program, profile = unpacked(task.program)
    return run_jobs(program, profile, engine_of(program, task.engine), task)


def run_jobs(program: Program, profile: Profile, engine: Engine, task: BatchTask) -> BatchResult:
    """`run_batch` for a program and an engine at hand (what cannot be pickled stays in its process)."""
    result = BatchResult()
    seen = set(task.seen)
    for job, story, outcome in _runs(program, profile, engine, task):
        if outcome is None:
            result.cut = True
            break
        ran = result.take(program, job.number, story, outcome)
        state = state_of(profile, outcome)
        if state not in seen and outcome.assumption_broken is None:
            seen.add(state)
            result.reached[state] = ran
    return result


def _runs(
    program: Program, profile: Profile, engine: Engine, task: BatchTask
) -> Iterator[tuple[Job, Story, Outcome | None]]:
    """Each job with its story and outcome, None where the time was out; many go side by side as lanes."""
    composed = ((job, tidy(program, _story(profile, job, task))) for job in task.jobs)
    if engine is search_engine(program) and len(task.jobs) >= LANES_FROM:
        pairs = list(composed)
        stories = [story for _, story in pairs]
        outcomes = lanes_engine().run_many(program, stories, watch=task.watch, shown=profile.pattern, until=task.until)
        yield from ((job, story, outcome) for (job, story), outcome in zip(pairs, outcomes, strict=True))
        return
    for job, story in composed:
        over = time.time() > task.until
        yield job, story, None if over else engine.run(program, story, watch=task.watch)
        if over:
            return


def _story(profile: Profile, job: Job, task: BatchTask) -> Story:
    """A long run's story, a fresh one, or one grown from a scenario of the file or from what was reached."""
    draws = SeededDraws(task.seed, job.number)
    if job.long is not None:
        return long_story(profile, task.scenarios, task.seed, job.long, job.shape)
    if not chance(draws, job.grown, 8) or not (task.scenarios or task.corpus):
        return compose(profile, draws, job.shape)
    if task.scenarios and (not task.corpus or chance(draws, 1, 2)):
        return extend(profile, draws, pick(draws, task.scenarios), job.shape)
    recent = task.corpus[-32:] if draws.below(2) else task.corpus
    return extend(profile, draws, pick(draws, recent), job.shape)


def state_of(profile: Profile, outcome: Outcome) -> str:
    """The truths and counts that a run ended with, and which triggers it saw: where it got to, roughly."""
    shown = ((name, outcome.final[name]) for name in sorted(profile.pattern & outcome.final.keys()))
    bits = "".join(f"{value:d}" if isinstance(value, bool) else f" {name} {value} " for name, value in shown)
    triggers = "".join("1" if outcome.judgements[name].triggers else "0" for name in sorted(outcome.judgements))
    return f"{bits}/{triggers}"
