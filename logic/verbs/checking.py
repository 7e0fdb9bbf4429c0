"""The check, and what is said of two versions and of times: verbs that prove and search."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING

from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.verdict import CheckResult, SearchFigures
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.verbs.reading import Source, runnable, understood_of

if TYPE_CHECKING:
    from rungproof.logic.compare_results import CompareResult
    from rungproof.logic.proofs.certificate import Certificate
    from rungproof.logic.reaction_results import ReactionResult

#: Seconds that a proof of one requirement may take, if nobody says otherwise.
PROVE_S = 4.0


def check(
    path: Source,
    *,
    seed: int = 0,
    time_s: float | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
    prove_s: float | None = None,
    hours: float | None = None,
    record: str | Path | None = None,
) -> CheckResult:
    """Find mistakes in the text and attack every requirement.

    Args: `path`, or what has been read of it already; `seed`, a whole number, of all that is drawn by chance;
    `time_s`, seconds to search (a plan for 11.5, cut after 34); `progress`, called with runs done, runs planned and
    words; `executor`, any, to search on; `prove_s`, seconds to try a proof of each requirement first (4; 0 leaves it
    out); `hours`, so many plant-hours of long runs beyond the plan, kept in the file `record` (one beside the
    project, where `path` is one) so that a check that was ended goes on. Files that cannot be run give a
    result without verdicts, with exit code 2. Raises `RecordError` where the record is of something else.
    """
    understood = understood_of(path)
    if record is None and not isinstance(path, Understanding):
        record = record_beside(path)
    if understood.program is None:
        nothing = SearchFigures(seed, "none", planned_runs=0, runs=0, simulated_ms=0, longest_run_ms=0)
        return CheckResult((), (), (), nothing, understood.diagnoses)
    return check_program(
        understood.program,
        seed=seed,
        time_s=time_s,
        progress=progress,
        executor=executor,
        diagnoses=understood.diagnoses,
        prove_s=PROVE_S if prove_s is None else prove_s,
        hours=hours,
        record=None if record is None else Path(record),
    )


def record_beside(path: str | Path) -> Path:
    """Where a long campaign keeps its record: `campaign.jsonl` in the folder, `NAME.campaign.jsonl` beside a file."""
    where = Path(path)
    return where / "campaign.jsonl" if where.is_dir() else where.with_suffix(".campaign.jsonl")


def compare(
    old: Source,
    new: Source,
    *,
    time_s: float | None = None,
    seed: int = 0,
    certificates: Mapping[str, Certificate] | None = None,
) -> CompareResult:
    """Two versions of a controller: proved equal at every output that both have, or told apart by a story.

    Args: `time_s`, seconds to try (20); `certificates`, of which it is said whether they still stand in
    `new`. Raises `FilesWrongError` where either cannot be run.
    """
    from rungproof.logic.compare_results import compare_understood

    before, now = runnable(old), runnable(new)
    return compare_understood(before, now, time_s=time_s, seed=seed, certificates=certificates or {})


def reaction(path: Source, *, prove_s: float | None = None) -> ReactionResult:
    """How long it takes at the most from a cause to its effect, for each requirement that says within what time.

    Args: `prove_s`, seconds for each proof (2). Raises `FilesWrongError` where the files cannot be run.
    """
    from rungproof.logic.reaction_results import reaction_of

    return reaction_of(runnable(path), prove_s=prove_s)
