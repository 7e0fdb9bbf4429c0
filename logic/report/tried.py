"""What a report tries beyond the check: faults, restarts, coverage, each by a plan that no clock cuts."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from typing import Literal

from rungproof.logic.checks.parent import can_fork, forked_pool
from rungproof.logic.checks.search import Progress, pickled
from rungproof.logic.coverage.measure import SEARCH_S, measure
from rungproof.logic.coverage.result import CoverageResult
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.faults.table import LONG_TICKS, fault_table
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project
from rungproof.logic.safety.restart import RestartResult, restart_of

#: What can be left out of a report, or be looked at for as long as its own command does.
Part = Literal["faults", "restart", "coverage"]

#: Plant ticks that the long watches of the table of faults may take together, and planned seconds of the search for
#: coverage: the report of a tank's controller comes within half a minute after its check. Plans, not clocks.
SHORT_TICKS, SHORT_COVERAGE_S = 1_000_000, 3.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for: `without` parts are left out, `whole` ones take as long as their own commands do."""

    seed: int = 0
    without: frozenset[Part] = frozenset()
    whole: frozenset[Part] = frozenset()


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of it; None for what was left out, or cannot be tried."""

    faults: FaultTable | None
    restart: RestartResult | None
    coverage: CoverageResult | None


def try_all(project: Project, program: Program, wanted: Wanted, progress: Progress | None = None) -> Tried:
    """Faults on every core, and meanwhile the others in a process of their own, where they can be sent to one."""
    apart = "faults" not in wanted.without and program.plant is not None and (os.cpu_count() or 1) > 1
    if not (apart and can_fork()) or pickled((project, program)) is None:
        restart, coverage = _others(project, program, wanted)
        return Tried(_faults(program, wanted, progress), restart, coverage)
    with forked_pool(1) as pool:
        coming = pool.submit(_others, project, program, wanted)
        faults = _faults(program, wanted, progress)
        return Tried(faults, *coming.result())


def _faults(program: Program, wanted: Wanted, progress: Progress | None) -> FaultTable | None:
    if "faults" in wanted.without or program.plant is None:
        return None
    ticks = LONG_TICKS if "faults" in wanted.whole else SHORT_TICKS
    return fault_table(program, seed=wanted.seed, progress=progress, long_ticks=ticks)


def _others(project: Project, program: Program, wanted: Wanted) -> tuple[RestartResult | None, CoverageResult | None]:
    """Restarts and coverage, one after the other."""
    restart, coverage = None, None
    if "restart" not in wanted.without and program.controller is not None:
        restart = restart_of(program, time_s=math.inf, faults="restart" in wanted.whole, prove=False)
    if "coverage" not in wanted.without:
        time_s = SEARCH_S if "coverage" in wanted.whole else SHORT_COVERAGE_S
        coverage = measure(project, program, seed=wanted.seed, time_s=time_s, prove_s=0.0, unhurried=True)
    return restart, coverage
