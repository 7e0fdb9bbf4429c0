"""Runs in processes of their own: the file's scenarios while this one waits for proofs, stories on both cores."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.parent import can_fork, forked_pool
from rungproof.logic.checks.scenarios import ScenarioRun, scenario_runs
from rungproof.logic.checks.search import pickled
from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.meaning.program import Program, Story

#: Fewer instants in all runs together are over before a process has started.
WORTH_A_PROCESS = 20_000


@contextmanager
def scenarios_beside(program: Program, engine: Engine | None) -> Iterator[Callable[[], list[ScenarioRun]] | None]:
    """Begin to run all scenarios; what is given waits for their results. None, and nothing begun, where a process
    does not pay or cannot be had without the caller's help."""
    if engine is not None or not _pays(program, [scenario.story for scenario in program.scenarios]):
        yield None
        return
    with forked_pool(1) as pool:
        yield pool.submit(_all_scenarios, program).result


def outcomes_of(
    program: Program, engine: Engine | None, stories: Sequence[Story], watch: frozenset[str]
) -> list[Outcome]:
    """The outcome of each story, in order; on both cores where that pays."""
    if engine is not None or not _pays(program, stories):
        return _outcomes(program, engine, stories, watch)
    with forked_pool(2) as pool:
        # every other one, for long ones stand together
        halves = [pool.submit(_outcomes, program, None, stories[place::2], watch) for place in (0, 1)]
        found = [each.result() for each in halves]
    return [found[place % 2][place // 2] for place in range(len(stories))]


def _outcomes(
    program: Program, engine: Engine | None, stories: Sequence[Story], watch: frozenset[str]
) -> list[Outcome]:
    return [(engine or fast_engine()).run(program, story, watch=watch) for story in stories]


def _pays(program: Program, stories: Sequence[Story]) -> bool:
    """Whether a process more is worth it for these runs, and can be had without the caller's help."""
    instants = sum(story.duration_ms for story in stories) // program.instant_ms
    return can_fork() and instants >= WORTH_A_PROCESS and pickled(program) is not None


def _all_scenarios(program: Program) -> list[ScenarioRun]:
    return list(scenario_runs(program, None, program.scenarios))
