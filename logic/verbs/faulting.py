"""What if something fails, comes back, or was never guarded: verbs that look at a plant and its layers."""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.checks.search import Progress
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.faults.table import fault_table
from rungproof.logic.loops.loop import PATTERN_MS, LoopResult, loop_figures
from rungproof.logic.safety.independence import IndependenceResult, independence_of
from rungproof.logic.safety.restart import RestartResult, restart_of
from rungproof.logic.verbs.reading import Source, runnable


def faults(
    path: Source,
    *,
    seed: int = 0,
    pairs: bool = False,
    replay: bool = False,
    progress: Progress | None = None,
    workers: int | None = None,
) -> FaultTable:
    """Try every fault that the model knows: what shows it, what the plant does, what breaks.

    Args: `seed`, of what is drawn by chance; `pairs`, two independent faults too, a hidden one first;
    `replay`, run every row's story again in the reference engine; `progress`, called with faults done,
    faults in all and a name; `workers`, processes (as many as processors). Raises `FilesWrongError`
    where the files cannot be run.
    """
    program = runnable(path)
    return fault_table(program, seed=seed, pairs=pairs, replay=replay, progress=progress, workers=workers)


def independence(path: Source) -> IndependenceResult:
    """For each hazard its layers (circuit, program, operator), what defeats each, and what they share.

    Computed from circuits, rungs and wiring. Raises `FilesWrongError` where the files cannot be run.
    """
    return independence_of(runnable(path))


def restart(path: Source, *, time_s: float | None = None) -> RestartResult:
    """For each thing that moves: does anything but a fresh, deliberate action start it again?

    Power return, stops, emergency stop release, modes, parameters, faults that clear, resets; with start buttons let
    go, held and pressed meanwhile. `time_s`: seconds to look (120). Raises `FilesWrongError` where the files cannot
    be run.
    """
    return restart_of(runnable(path), time_s=time_s)


def loop(
    path: Source, *, seed: int = 0, pattern_ms: int = PATTERN_MS, recorded: Sequence[float] = (), band: float = 0.02
) -> LoopResult:
    """Every `pi` loop's figures under a step, a random and (given `recorded`) a recorded draw-off of `pattern_ms` each.

    `band`: the share of the setpoint within which it counts as settled. Raises `FilesWrongError` where the files
    cannot be run.
    """
    program = runnable(path)
    return loop_figures(program, seed=seed, pattern_ms=pattern_ms, recorded=recorded, band=band)
