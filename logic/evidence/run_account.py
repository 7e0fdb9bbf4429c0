"""Running a scenario and telling the run: what it expected, what came, what happened meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rungproof.grammar.tree import Span
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.scenarios import scenario_runs
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.verdict import ScenarioResult
from rungproof.logic.evidence.account import Account, names_told, tell, wanted
from rungproof.logic.meaning.program import Program, Scenario, Story

#: Values (instants times names) of a run that are held at once to be told.
MOST_VALUES = 80_000_000

IDLE = "Nothing happens"


@dataclass(frozen=True, slots=True)
class ToldRun:
    result: ScenarioResult
    account: Account
    story_text: str


def idle_scenario(duration_ms: int) -> Scenario:
    """A scenario in which nobody does anything."""
    return Scenario(IDLE, Story(duration_ms), (), Span("", 1, 1, 1))


def run_account(
    program: Program, scenario: Scenario, *, every_ms: int | None = None, only: frozenset[str] = frozenset()
) -> ToldRun:
    """Run a scenario and tell it.

    Raises `ValueError` for a run too long to tell, `KeyError` for a name in `only` that is not there.
    """
    affordable(program, scenario.story)
    alone = replace(program, scenarios=(scenario,))
    run = next(iter(scenario_runs(alone, None, [scenario])))
    trace = fast_engine().run(alone, scenario.story, watch=frozenset(), record=True).trace
    if trace is None:
        raise AssertionError("an engine that was asked to record did not")
    only = wanted(only, names_told(trace))
    for name in sorted(only - names_told(trace)):
        raise KeyError(f"no tag or signal is called `{name}`; there are: {', '.join(sorted(names_told(trace)))}")
    account = tell(program, scenario.story, trace, every_ms=every_ms, only=only)
    return ToldRun(run.result, account, story_block(program, scenario.story, scenario.name))


def affordable(program: Program, story: Story) -> None:
    """A run is told from memory: one that does not fit is refused before it eats the machine."""
    controller, plant = program.controller, program.plant
    names = 1
    if controller is not None:
        names += len(controller.tags) + 2 * len(controller.stages)
    if plant is not None:
        names += len(plant.assembly.outputs) + len(plant.assembly.contacts)
    longest = MOST_VALUES // names * program.instant_ms
    if story.duration_ms > longest:
        raise ValueError(f"the run is too long to be told instant by instant: at most {longest // 1000} s here")
