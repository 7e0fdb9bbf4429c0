"""A comparison in a process of its own, which is killed where it overruns its time or its memory."""

from __future__ import annotations

import multiprocessing
import sys
import time
from typing import Any

from rungproof.logic.checks.parent import no_interrupt
from rungproof.logic.checks.search import pickled
from rungproof.logic.meaning.program import Program
from rungproof.logic.proofs.compare import RECHECK_S, Comparison, compare_programs
from rungproof.logic.proofs.job import limit_memory
from rungproof.logic.proofs.workers import GRACE, START, no_script


def compare_apart(old: Program, new: Program, *, time_s: float, seed: int = 0) -> Comparison:
    """`compare_programs` within `time_s` seconds, the second solver's time not counted. Raises nothing."""
    context = _context(old, new)
    if context is None:
        return _compared(old, new, time_s, seed)
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, old, new, time_s, seed), daemon=True)
    with no_interrupt(context), no_script():
        process.start()
    theirs.close()
    began = time.monotonic()
    try:
        if ours.poll(time_s + START + RECHECK_S + GRACE):
            found: Comparison = ours.recv()
            return found
        return _undecided("the time was up", began)
    except (EOFError, OSError):
        return _undecided("the process that compared them died", began)
    finally:
        process.kill()
        process.join()
        ours.close()


def _context(old: Program, new: Program) -> Any:
    """How the process begins. A user's own part, loaded for both versions, cannot be told to a fresh one: there a copy
    of this process compares. None where nothing can be copied either, and the comparison is made here."""
    if pickled(old) is not None and pickled(new) is not None:
        return multiprocessing.get_context("spawn")
    return multiprocessing.get_context("fork") if sys.platform.startswith("linux") else None


def _undecided(why: str, began: float) -> Comparison:
    return Comparison("undecided", why=why, seconds=time.monotonic() - began)


def _serve(pipe: Any, old: Program, new: Program, time_s: float, seed: int) -> None:
    limit_memory()
    sys.setrecursionlimit(20_000)
    pipe.send(_compared(old, new, time_s, seed))


def _compared(old: Program, new: Program, time_s: float, seed: int) -> Comparison:
    try:
        return compare_programs(old, new, time_s=time_s, seed=seed)
    except MemoryError:
        return Comparison("undecided", why="the memory was not enough")
    except Exception as error:
        return Comparison("undecided", why=f"internal error: {type(error).__name__}: {error}")
