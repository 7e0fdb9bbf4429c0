"""One proof as a job for another process: a system as text in, two answers out."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from rungproof.logic.proofs.by_case import decide_by_cases
from rungproof.logic.proofs.exhaust import Tried, exhaust
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import LATEST, TRIGGER_SHARE, Answer, Tell
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.text import parse_step, print_step

#: The module whose `recheck` has the last word on every proof, and the seconds it may take.
RECHECK, RECHECK_S = "rungproof.logic.proofs.recheck", 20.0
#: Seconds that trying everything may take.
EXHAUST_S = 10.0
#: Said of a proof that no second solver has looked at.
NOBODY = "no second solver has checked it"
#: Memory (bytes) that a process which proves may have.
MOST_MEMORY = 3 * 2**30


#: What is said of a trigger where nothing rests on it.
_NOT_ASKED = Answer("unknown", "", 0.0, 0, why="nobody asked")


@dataclass(frozen=True)
class Job:
    """A system in a form that any process can read, and the seconds there are for it."""

    step: str
    requirement: str
    tick: int
    bad: str
    triggered: str
    free_starts: frozenset[str]
    time_s: float
    rationed: bool = False
    case: str = ""

    def system(self) -> System:
        step = parse_step(self.step)
        return System(step, self.requirement, self.tick, self.bad, self.triggered, self.free_starts, self.case)


@dataclass(frozen=True)
class Answers:
    """Of `bad`, and of the trigger (`refuted`: it can come; `proved`: it never does).

    `objection`: why the second solver does not agree to an invariant; empty where it does.
    `tried`: where no proof stands and everything was tried instead, and none of it is bad.
    """

    bad: Answer
    trigger: Answer
    bad_objection: str = NOBODY
    trigger_objection: str = NOBODY
    tried: Tried | None = None


def job_of(system: System, time_s: float, *, rationed: bool = False) -> Job:
    """The job of deciding a system, cut down to what its two outputs need."""
    step = system.step.slice([system.bad, system.triggered])
    return Job(
        print_step(step),
        system.requirement,
        system.tick,
        system.bad,
        system.triggered,
        system.free_starts,
        time_s,
        rationed,
        system.case,
    )


def work(job: Job, tell: Tell = lambda depth: None, phase: Callable[[float], None] = lambda seconds: None) -> Answers:
    """Decide a job in this process. `phase` is called with the seconds that what comes next may take."""
    system = job.system()
    never_triggered = replace(system, bad=system.triggered)
    phase(LATEST * job.time_s)
    bad = decide_by_cases(system, system.bad, job.time_s, tell, rationed=job.rationed)
    phase(RECHECK_S)
    bad_objection = objection(system, bad)
    tried = _tried(system, bad, bad_objection, job.time_s, phase)
    if bad.word != "proved" or bad_objection:
        # Whether a trigger comes is only asked of what holds.
        return Answers(bad, _NOT_ASKED, bad_objection, NOBODY, tried)
    for_trigger = job.time_s * TRIGGER_SHARE
    phase(LATEST * for_trigger)
    try:
        trigger = decide_by_cases(system, system.triggered, for_trigger, rationed=job.rationed, any_run=True)
    except MemoryError:
        trigger = Answer("unknown", "", 0.0, 0, why="the memory was not enough")
    phase(RECHECK_S)
    return Answers(bad, trigger, bad_objection, objection(never_triggered, trigger), tried)


def _tried(
    system: System, bad: Answer, bad_objection: str, time_s: float, phase: Callable[[float], None]
) -> Tried | None:
    if system.case or bad.word == "refuted" or (bad.word == "proved" and not bad_objection):
        return None
    seconds = min(time_s, EXHAUST_S)
    # The last pass may overrun, and the plain exploration comes after.
    phase(2 * seconds + EXHAUST_S)
    return exhaust(system, system.bad, seconds)


def objection(system: System, answer: Answer) -> str:
    """Why the second solver, over its own encoding of the system, does not agree to a proof; empty if it does."""
    if answer.word != "proved":
        return NOBODY
    try:
        second = importlib.import_module(RECHECK)
    except ModuleNotFoundError:
        return NOBODY
    found = second.recheck(system, Invariant(answer.clauses), RECHECK_S)
    return "" if isinstance(found, second.Verified) else f"the second solver did not agree: {found}"


def failed(why: str, seconds: float, depth: int) -> Answers:
    """The answers of a job that came to no end."""
    nothing = Answer("unknown", "", seconds, depth, why=why)
    return Answers(nothing, nothing)


def serve(pipe: Any) -> None:
    """The life of a process that proves: jobs come in; `depth`, `phase` and at last `answers` go out."""
    limit_memory()
    # Chains of thresholds nest as deeply as rungs write to one tag.
    sys.setrecursionlimit(20_000)
    while True:
        job = pipe.recv()
        try:
            answers = work(
                job, lambda depth: pipe.send(("depth", depth)), lambda seconds: pipe.send(("phase", seconds))
            )
        except MemoryError:
            answers = failed("the memory was not enough", 0.0, 0)
        except Exception as error:
            answers = failed(f"internal error: {type(error).__name__}: {error}", 0.0, 0)
        pipe.send(("answers", answers))


def limit_memory() -> None:
    if os.name == "posix":
        resource = importlib.import_module("resource")
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
