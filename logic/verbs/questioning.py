"""Are the requirements good enough: mistakes put into the rungs, and what was never seen of them."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING

from rungproof.logic.checks.search import Progress
from rungproof.logic.verbs.reading import read_to_change, runnable

if TYPE_CHECKING:
    from rungproof.logic.coverage.result import CoverageResult
    from rungproof.logic.mutants.result import MutantsResult


def mutants(
    path: str | Path,
    *,
    seed: int = 0,
    time_s: float | None = None,
    rungs: Iterable[str] = (),
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> MutantsResult:
    """Put every mistake of a kind that people make into the files, and see who objects.

    Args: `time_s`, seconds of the search for stories that every mutant meets (10); each that survives them gets
    a search of its own, in proportion. `rungs`, names of rungs (or of tags that are retained) to change (all);
    `seed`, of all searches; `executor`, any, to work on (two processes of our own). Raises `FilesWrongError`
    where the files cannot be run, `KeyError` for a rung that has no mutant.
    """
    from rungproof.logic.mutants.hunt import SUITE_S, hunt
    from rungproof.logic.mutants.judge import SEARCH_S

    project, understood = read_to_change(path)
    folder = Path(path) if Path(path).is_dir() else Path(path).parent
    more = {} if time_s is None else {"suite_s": time_s, "search_s": SEARCH_S * time_s / SUITE_S}
    return hunt(project, understood, folder, seed=seed, rungs=rungs, progress=progress, executor=executor, **more)


def coverage(
    path: str | Path,
    *,
    seed: int = 0,
    time_s: float | None = None,
    prove_s: float | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> CoverageResult:
    """Which rows of every rung's conditions the scenarios and a search reach, which can never come, which are missing.

    Args: `time_s`, planned seconds of the search (8); `prove_s`, seconds to try a proof that a missing row
    cannot come (2; 0 leaves it out). Raises `FilesWrongError` where the files cannot be run.
    """
    from rungproof.logic.coverage import measure as measuring

    project, understood = read_to_change(path)
    return measuring.measure(
        project,
        runnable(understood),
        seed=seed,
        time_s=measuring.SEARCH_S if time_s is None else time_s,
        prove_s=measuring.PROVE_S if prove_s is None else prove_s,
        progress=progress,
        executor=executor,
    )
