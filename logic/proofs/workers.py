"""Processes that prove, with deadlines: one that overruns is killed and its job left undecided."""

from __future__ import annotations

import multiprocessing
import os
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import wait
from types import ModuleType
from typing import Any

from rungproof.logic.checks.parent import no_interrupt
from rungproof.logic.proofs.job import Answers, Job, failed, serve

#: Seconds beyond its own time after which a process is killed, and those it may take to begin.
GRACE, START = 2.0, 20.0


@contextmanager
def no_script() -> Iterator[None]:
    """What is spawned in here does not run the caller's own script again: one that asks for a check outright,
    with no guard around it, would check once more in every child, and each child would die of that."""
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script


@dataclass
class _Worker:
    """A process, its pipe, and the place of the job it is at; it is killed at `deadline`."""

    process: Any
    pipe: Any
    place: int
    began: float
    deadline: float
    depth: int = 0


def decide_all(jobs: Sequence[Job], workers: int | None = None) -> Iterator[tuple[int, Answers]]:
    """The answers of each job with its place, as they come. `workers`: how many processes; None for one per core."""
    count = max(1, min(len(jobs), workers or os.cpu_count() or 1))
    pool = _Pool()
    try:
        waiting = list(enumerate(jobs))[::-1]
        while waiting or pool.busy:
            while waiting and len(pool.busy) < count:
                pool.start(*waiting.pop())
            yield from pool.collect()
    finally:
        pool.close()


class _Pool:
    def __init__(self) -> None:
        # `spawn`: a fork would copy the threads that draw progress in a state nobody knows.
        self.context = multiprocessing.get_context("spawn")
        self.busy: list[_Worker] = []
        self.idle: list[tuple[Any, Any]] = []

    def start(self, place: int, job: Job) -> None:
        now = time.monotonic()
        process, pipe = self.idle.pop() if self.idle else self._new()
        worker = _Worker(process, pipe, place, now, now + job.time_s + START)
        self.busy.append(worker)
        try:
            pipe.send(job)
        except OSError:
            # The process is gone; `collect` reads its end and says so.
            worker.deadline = now

    def _new(self) -> tuple[Any, Any]:
        ours, theirs = self.context.Pipe()
        process = self.context.Process(target=serve, args=(theirs,), daemon=True)
        with no_interrupt(self.context), no_script():
            process.start()
        theirs.close()
        return process, ours

    def collect(self) -> Iterator[tuple[int, Answers]]:
        """What came, and the jobs of processes that were killed or died, within half a second."""
        ready = set(wait([worker.pipe for worker in self.busy], timeout=0.5))
        for worker in list(self.busy):
            answers = self._heard(worker) if worker.pipe in ready else None
            if answers is None and time.monotonic() > worker.deadline:
                answers = self._killed(worker, "the time was up")
            if answers is not None:
                yield worker.place, answers

    def _heard(self, worker: _Worker) -> Answers | None:
        try:
            kind, what = worker.pipe.recv()
        except (EOFError, OSError):
            return self._killed(worker, "the process that proved it died")
        if kind == "depth":
            worker.depth = max(worker.depth, what)
        elif kind == "phase":
            worker.deadline = time.monotonic() + what + GRACE
        if kind != "answers":
            return None
        self.busy.remove(worker)
        self.idle.append((worker.process, worker.pipe))
        result: Answers = what
        return result

    def _killed(self, worker: _Worker, why: str) -> Answers:
        self.busy.remove(worker)
        _end(worker.process, worker.pipe)
        return failed(why, time.monotonic() - worker.began, worker.depth)

    def close(self) -> None:
        for process, pipe in [*self.idle, *((each.process, each.pipe) for each in self.busy)]:
            _end(process, pipe)
        self.idle, self.busy = [], []


def _end(process: Any, pipe: Any) -> None:
    process.kill()
    process.join()
    pipe.close()
