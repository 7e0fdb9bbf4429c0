"""Hypothesis' short stories of one group of runs: one piece of work for one process."""

from __future__ import annotations

import time
from dataclasses import dataclass

from rungproof.logic.checks.batch import BatchResult, engine_of, unpacked
from rungproof.logic.checks.compose import Shape
from rungproof.logic.checks.drive import drive
from rungproof.logic.checks.profile import Profile
from rungproof.logic.checks.stories import tidy
from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.meaning.program import Program, Story


@dataclass(frozen=True, slots=True)
class DrivenTask:
    """`program` and `engine` are pickled; None is the fast engine. So many `stories` of each of `shapes`, judged by
    `watch`, until all of `wanted` are violated or the time is `until` (of `time.time()`). `climb` names the
    requirements whose triggers are sought."""

    program: bytes
    engine: bytes | None
    watch: frozenset[str]
    wanted: frozenset[str]
    climb: frozenset[str]
    shapes: tuple[Shape, ...]
    stories: int
    seed: int
    until: float


def run_driven(task: DrivenTask) -> BatchResult:
    """Work off a task. Run in this process or another, the result is the same."""
    program, profile = unpacked(task.program)
    return drive_here(program, profile, engine_of(program, task.engine), task)


def drive_here(program: Program, profile: Profile, engine: Engine, task: DrivenTask) -> BatchResult:
    """`run_driven` for a program and an engine at hand."""
    result = BatchResult()

    def run(story: Story) -> Outcome | None:
        result.cut |= time.time() > task.until
        if result.cut or task.wanted <= result.violations.keys():
            return None
        story = tidy(program, story)
        outcome = engine.run(program, story, watch=task.watch)
        result.take(program, 0, story, outcome)
        return outcome

    for place, shape in enumerate(task.shapes):
        if not result.cut:
            seed = task.seed * 1000 + place
            drive(profile, shape, seed=seed, stories=task.stories, run=run, climb=task.climb)
    return result
