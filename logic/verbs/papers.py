"""Papers: the evidence report and the bench sheets."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

from rungproof.logic.checks.search import Progress
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.sheets.bench_sheets import BenchSheets, bench_sheets
from rungproof.logic.sheets.readings import TOLERANCE
from rungproof.logic.verbs.reading import Source, read_to_draw, runnable, understand

if TYPE_CHECKING:
    from rungproof.logic.report.evidence import Asked, Evidence
    from rungproof.logic.report.tried import Part


def evidence(
    path: str | Path,
    *,
    seed: int = 0,
    without: Collection[Part] = (),
    whole: Collection[Part] = (),
    progress: Progress | None = None,
) -> Evidence:
    """All that the evidence report tells: an unhurried check, faults, restarts, coverage, drawings, charts, layers.

    No clock bounds it: the same files, seed and versions give the same; header_tank takes about a minute. `without`:
    parts to leave out, `whole`: parts to look at for as long as their own commands do. Raises `FilesWrongError`
    where the files cannot be run.
    """
    understood = understand(path)
    runnable(understood)
    return evidence_of(understood, read_to_draw(path), seed=seed, without=without, whole=whole, progress=progress)


def evidence_of(understood: Understanding, project: Project, **asked: Unpack[Asked]) -> Evidence:
    """`evidence` of what has been read already."""
    from rungproof.logic.report.evidence import gather

    return gather(understood, project, **asked)


def sheets(path: Source, *, tolerance: float = TOLERANCE) -> BenchSheets:
    """What a person with a meter checks: wiring, readings, causes and effects, tests.

    `tolerance` is that of analog readings, in percent of the span. Raises `FilesWrongError`
    where the files cannot be run.
    """
    return bench_sheets(runnable(path), tolerance=tolerance)
