"""A process for each submission, with limits of time and memory: none can slow the others or reach beyond itself."""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import os
import signal
import sys
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any

from rungproof.logic.teaching.exercise import Exercise, ExerciseError
from rungproof.logic.teaching.grade import Grade
from rungproof.logic.teaching.variant import variant_of

#: Seconds of a processor that one submission may have, and bytes beyond what the program itself takes.
MOST_SECONDS, MOST_MEMORY = 10.0, 1_500_000_000

#: On a busy machine those seconds may take so many times longer before the submission is stopped.
PATIENCE = 4.0


@dataclass(frozen=True, slots=True)
class Handed:
    """What one student handed in."""

    student: str
    path: Path


@dataclass(slots=True)
class _Work:
    place: int
    process: Any
    pipe: Any
    deadline: float


def grade_all(
    exercise: Exercise,
    handed: Sequence[Handed],
    *,
    seed: int = 0,
    variants: bool = False,
    workers: int | None = None,
    seconds: float = MOST_SECONDS,
    told: Callable[[Grade], None] = lambda grade: None,
) -> list[Grade]:
    """Grade every submission, each in a process of its own; in the order in which they were given.

    `seconds`: of a processor, after which a submission is stopped. `told` is called with each grade as it comes. Raises
    `ExerciseError` where the exercise itself cannot be run.
    """
    _load_what_all_need(exercise)
    count = workers or max(1, min(len(handed), os.cpu_count() or 1))
    waiting = deque(enumerate(handed))
    busy: list[_Work] = []
    done: dict[int, Grade] = {}
    try:
        while waiting or busy:
            while waiting and len(busy) < count:
                place, each = waiting.popleft()
                own = variant_of(exercise, each.student, seed) if variants else exercise
                busy.append(_started(place, own, each, seed, seconds))
            for work, grade in _finished(busy, handed, exercise):
                busy.remove(work)
                done[work.place] = grade
                told(grade)
    finally:
        for work in busy:
            _end(work)
    return [done[place] for place in range(len(handed))]


def _load_what_all_need(exercise: Exercise) -> None:
    """Loaded once, here, so that a process that is forked off has it already: the solvers, the grammars."""
    for solver in ("prove", "recheck"):
        importlib.import_module(f"rungproof.logic.proofs.{solver}")
    from rungproof.logic.teaching import grading
    from rungproof.logic.teaching.exercise import SOLUTION

    if exercise.kind == "rungs":
        grading.ready(exercise, exercise.texts[SOLUTION])


def _context() -> Any:
    """`fork` where there is one: it starts in milliseconds. Nothing here has begun a thread."""
    return multiprocessing.get_context("fork" if sys.platform.startswith("linux") else "spawn")


def _started(place: int, exercise: Exercise, each: Handed, seed: int, seconds: float) -> _Work:
    context = _context()
    ours, theirs = context.Pipe(duplex=False)
    arguments = (theirs, exercise, each, seed, seconds)
    process = context.Process(target=_serve, args=arguments, daemon=True)
    process.start()
    theirs.close()
    return _Work(place, process, ours, time.monotonic() + seconds * PATIENCE)


def _finished(busy: list[_Work], handed: Sequence[Handed], exercise: Exercise) -> list[tuple[_Work, Grade]]:
    ready = set(wait([work.pipe for work in busy], timeout=0.2))
    found = []
    for work in busy:
        student = handed[work.place].student
        if work.pipe in ready:
            found.append((work, _heard(work, student, exercise.name)))
        elif time.monotonic() > work.deadline:
            reason = "it took longer than there is time for one answer"
            found.append((work, Grade(student, exercise.name, "stopped", reason=reason)))
        else:
            continue
        _end(work)
    return found


def _heard(work: _Work, student: str, exercise: str) -> Grade:
    try:
        kind, what = work.pipe.recv()
    except (EOFError, OSError):
        reason = "its process ended before it was graded: too much memory, or too much time"
        return Grade(student, exercise, "stopped", reason=reason)
    if kind == "exercise":
        raise ExerciseError(what)
    grade: Grade = what
    return grade


def _end(work: _Work) -> None:
    """End a submission's process with whatever it has started."""
    if hasattr(os, "killpg"):
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(work.process.pid, signal.SIGKILL)
    work.process.kill()
    work.process.join()
    work.pipe.close()


# ------------------------------------------------------------ in the process


def _serve(pipe: Any, exercise: Exercise, each: Handed, seed: int, seconds: float) -> None:
    from rungproof.logic.teaching.grading import grade_path

    if hasattr(os, "setpgrp"):
        os.setpgrp()
    _limit(seconds)
    try:
        answer: tuple[str, Any] = ("grade", grade_path(exercise, each.path, each.student, seed))
    except ExerciseError as error:
        answer = ("exercise", str(error))
    except MemoryError:
        answer = ("grade", Grade(each.student, exercise.name, "stopped", reason="it needs more memory than there is"))
    except Exception as error:
        reason = f"internal error of ours ({type(error).__name__}); please show this submission to your teacher"
        answer = ("grade", Grade(each.student, exercise.name, "stopped", reason=reason))
    with contextlib.suppress(OSError):
        pipe.send(answer)


def _limit(seconds: float) -> None:
    """Limits that the system keeps: memory, processor time, no file written."""
    try:
        import resource
    except ImportError:  # a system without them: the deadline remains
        return
    most = _size() + MOST_MEMORY
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        resource.setrlimit(resource.RLIMIT_CPU, (round(seconds) + 1, round(seconds) + 2))
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def _size() -> int:
    """What this process takes already (bytes)."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError):
        return 1_000_000_000
    return pages * os.sysconf("SC_PAGE_SIZE")
