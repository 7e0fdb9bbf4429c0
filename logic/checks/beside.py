"""The file's scenarios in a process of their own, while this one waits for proofs: neither needs the other."""

from __future__ import annotations

import multiprocessing
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rungproof.logic.checks.parent import worker_pool
from rungproof.logic.checks.scenarios import ScenarioRun, scenario_runs
from rungproof.logic.checks.search import pickled
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.program import Program

#: Fewer instants in all scenarios together are run before a process has started.
WORTH_A_PROCESS = 20_000


@contextmanager
def scenarios_beside(program: Program, engine: Engine | None) -> Iterator[Callable[[], list[ScenarioRun]] | None]:
    """Begin to run all scenarios; what is given waits for their results. None, and nothing begun, where a process
    does not pay or cannot be had without the caller's help."""
    forks = sys.platform.startswith("linux") and not multiprocessing.current_process().daemon
    apart = (
        program.plant.tick if program.plant is not None else program.controller.scan_low if program.controller else 1
    )
    instants = sum(scenario.story.duration_ms for scenario in program.scenarios) // apart
    if not forks or engine is not None or instants < WORTH_A_PROCESS or pickled(program) is None:
        yield None
        return
    with worker_pool(1, multiprocessing.get_context("fork")) as pool:
        yield pool.submit(_all_scenarios, program).result


def _all_scenarios(program: Program) -> list[ScenarioRun]:
    return list(scenario_runs(program, None, program.scenarios))
