"""Rows of proofs: from the Step to a certificate that another solver has checked, and a Step tried in full.

`ROWS` maps a row's name to what measures it; each gives the fields of `run.Row` in order. Seconds are those of this
process and of the second solver's, which runs in one of its own: what else runs on the machine does not count.
"""

from __future__ import annotations

import resource
import shutil
import tempfile
import time
from collections.abc import Callable
from math import log
from pathlib import Path

from breadth_first_c import breadth_first
from proof_programs import coupled, lockout, rig, sequence
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand
from rungproof.logic.proofs.join import Joiner
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Answer, Forms, decide
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.spacer import spacer
from rungproof.logic.proofs.system import System, requirement_system, why_not

Fields = tuple[str, float, float | None, str, float | None, str, bool | None]
EXAMPLES = Path(__file__).parents[2] / "examples"


def decided(program: Program, name: str, limit_s: float) -> tuple[Answer, System, float]:
    """A requirement decided, with the seconds from its Step to the answer; a proof is checked again, in that time."""
    requirement = next(each for each in program.requirements if each.name == name)
    system = requirement_system(program, requirement)
    began = worked()
    answer = decide(system, system.bad, limit_s)
    if answer.word == "proved":
        checked = recheck(system, Invariant(answer.clauses), 60.0)
        assert isinstance(checked, Verified), checked
    return answer, system, worked() - began


def worked() -> float:
    """Seconds that this thread and all processes it has started and seen end have worked."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.thread_time() + children.ru_utime + children.ru_stime


def coupled_row(name: str, what: str) -> Callable[[], Fields]:
    """3,000 coupled rungs, and the exponent with which time grows from 100 on."""

    def measure() -> Fields:
        small, large = (decided(coupled(motors), name, 60.0) for motors in (17, 500))
        assert small[0].word == large[0].word == "proved", (small[0], large[0])
        exponent = log(large[2] / small[2]) / log(500 / 17)
        return (
            f"proof of {what}, 3,000 rungs",
            large[2],
            None,
            "s",
            exponent,
            "<= 1 s, exp 1.2",
            (large[2] <= 1 and exponent <= 1.2),
        )

    return measure


def timed_row(name: str, what: str) -> Callable[[], Fields]:
    """A time that runs against timers, at 3,000 coupled rungs against 100: what else there is should not matter."""

    def measure() -> Fields:
        small, large = (decided(coupled(motors), name, 60.0) for motors in (17, 500))
        assert small[0].word == large[0].word == "proved", (small[0], large[0])
        ratio = large[2] / small[2]
        met = large[2] <= 2 and ratio <= 2
        return f"proof of {what}, 3,000 rungs", large[2], small[2], "s", ratio, "<= 2 s, 2 x", met

    return measure


def least_time_row(steps: int) -> Callable[[], Fields]:
    def measure() -> Fields:
        answer, _, seconds = decided(sequence(steps, "10 ms"), "R2", 60.0)
        met = answer.word == "proved" and seconds <= 10 if steps >= 32 else None
        return (
            f"least time of {steps} steps, scans of 10 ms: {answer.word}",
            seconds,
            None,
            "s",
            None,
            "<= 10 s, 32",
            met,
        )

    return measure


def sequence_row(steps: int, against: bool = False) -> Callable[[], Fields]:
    """No two steps at once; `against` a solver of Horn clauses on the same abstraction, cut at a minute by the clock:
    where it has not come to an end by then, the ratio is the least that it can be."""

    def measure() -> Fields:
        answer, system, seconds = decided(sequence(steps), "R1", 60.0)
        most = 3 if steps <= 32 else 30
        word, baseline = by_horn_clauses(system, 60.0) if against else ("", None)
        ratio = None if baseline is None else baseline / seconds
        met = answer.word == "proved" and seconds <= most and (ratio is None or ratio >= 10) if steps >= 32 else None
        beside = f", Spacer {word}" if word else ""
        name = f"one-hot sequence of {steps} steps with timers: {answer.word}{beside}"
        asked = f"<= {most} s, >= 10 x" if against else f"<= {most} s, {max(steps, 32)}"
        return name, seconds, baseline, "s", ratio, asked, met

    return measure


def by_horn_clauses(system: System, limit_s: float) -> tuple[str, float]:
    """What Spacer says on the coarse form, and the seconds that its process worked."""
    engine, began = spacer(Forms(system, system.bad).coarse, system.bad, limit_s), worked()
    try:
        while True:
            next(engine)
    except StopIteration as end:
        return end.value.word, worked() - began


def deep() -> Fields:
    """A lockout after 47 starts of two scans each."""
    answer, _, seconds = decided(lockout(47), "R1", 60.0)
    assert answer.word == "refuted", answer
    return f"counterexample of {answer.depth} scans", seconds, None, "s", None, "<= 5 s, 94", seconds <= 5


def tried_in_full(groups: int) -> Callable[[], Fields]:
    """The join against a breadth-first search in C of the same exact Step."""

    def measure() -> Fields:
        program = rig(groups)
        system = requirement_system(program, program.requirements[0])
        forms = Forms(system, system.bad)
        assert forms.fine.exact, "the rewriting shows no more than the system"
        step = forms.fine.step
        began = time.thread_time()
        ours = Joiner(step, system.bad).explore()
        seconds = time.thread_time() - began
        name = f"tried in full, {3 * groups} inputs, {ours.states:,} states"
        if shutil.which("gcc") is None:
            return name, seconds, None, "s", None, ">= 10 x C, 12", None
        with tempfile.TemporaryDirectory() as folder:
            plain = breadth_first(step, system.bad, Path(folder))
        assert (plain.states, plain.transitions) == (ours.states, ours.transitions), (plain, ours)
        ratio = plain.seconds / seconds
        return name, seconds, plain.seconds, "s", ratio, ">= 10 x C, 12", ratio >= 10 if groups >= 4 else None

    return measure


def of_the_examples() -> Fields:
    """Every requirement of every example that has a system: decided and checked again, one after another."""
    seconds, undecided, count = 0.0, 0, 0
    for folder in sorted(each for each in EXAMPLES.iterdir() if each.is_dir() and each.name != "mistakes"):
        program = understand(folder).program
        for requirement in program.requirements if program is not None else ():
            if program is not None and why_not(program, requirement) is None:
                answer, _, took = decided(program, requirement.name, 4.0)
                seconds, count = seconds + took, count + 1
                undecided += answer.word == "unknown"
    name = f"all {count} requirements of the examples, {undecided} undecided"
    return name, seconds, None, "s", None, "<= 10 s", seconds <= 10


ROWS: dict[str, Callable[[], Fields]] = {
    "proof-invariant": coupled_row("R1", "an invariant"),
    "proof-no-restart": coupled_row("R2", "no restart"),
    "proof-response": timed_row("R3", "a bounded response"),
    "proof-cascade": timed_row("R4", "a cascade of two times"),
    "proof-sequence-8": sequence_row(8),
    "proof-sequence-32": sequence_row(32, against=True),
    "proof-sequence-100": sequence_row(100),
    "proof-least-time-8": least_time_row(8),
    "proof-least-time-32": least_time_row(32),
    "proof-deep": deep,
    "join-9": tried_in_full(3),
    "join-12": tried_in_full(4),
    "proof-examples": of_the_examples,
}
