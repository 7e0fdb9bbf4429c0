"""What the engines of a proof take and give.

An engine is a generator: it yields a depth whenever it has shown that no shorter run is bad,
or None when it only worked, so that several can take turns; it returns a `Result`.
"""

from __future__ import annotations

import typing
from collections.abc import Generator, Mapping
from dataclasses import dataclass

from rungproof.logic.proofs.bits import Bits, above
from rungproof.logic.proofs.literals import Clause
from rungproof.logic.proofs.run import Run
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.operators import Scalar

DecidedWord = typing.Literal["proved", "refuted", "unknown"]


@dataclass(frozen=True)
class Found:
    """A bad run over the rewritten Step's own names: the state it starts from, and every input."""

    start: Mapping[str, Scalar]
    given: tuple[Mapping[str, Scalar], ...]


@dataclass(frozen=True)
class Result:
    """`proved` with clauses over the given System's states; `refuted` with a run; or `unknown`.

    `depth`: no run of so many transitions is bad (of a refuted one: it is bad in the last of so many).
    """

    word: DecidedWord
    depth: int
    clauses: tuple[Clause, ...] = ()
    found: Found | None = None


Engine = Generator[int | None, None, Result]


def only_working(engine: Engine, most: int | None = None) -> Engine:
    """An engine whose depths nobody hears of: with lemmas, they are no depths of the system alone. After `most`
    steps it gives up: lemmas that serve serve soon."""
    steps = 0
    try:
        while most is None or steps < most:
            next(engine)
            steps += 1
            yield None
    except StopIteration as end:
        found: Result = end.value
        return found
    return Result("unknown", 0)


def run_of(system: System, bits: Bits, found: Found) -> Run:
    """A bad run of the rewritten Step as a run of the system: every number takes the value that its bits stand for."""
    starts = {name: _start(system, bits, found, name) for name in system.free_starts if name in system.step.states}
    return Run(starts, tuple(_given(system, bits, given) for given in found.given))


def _start(system: System, bits: Bits, found: Found, name: str) -> Scalar:
    if name in found.start:
        return found.start[name]
    state = system.step.states[name]
    reached = [
        above(fact.bound)
        for own, fact in bits.facts.items()
        if fact.name == name and fact.bound is not None and found.start[own]
    ]
    low = float(state.low) if state.type == "real" else int(state.low)
    return max([low, *reached])


def _given(system: System, bits: Bits, given: Mapping[str, Scalar]) -> dict[str, Scalar]:
    result: dict[str, Scalar] = {}
    for each in system.step.inputs.values():
        if each.name in given:
            result[each.name] = given[each.name]
        elif each.name in bits.thresholds:
            value: Scalar = float(each.low) if each.type == "real" else int(each.low)
            for threshold, own in bits.thresholds[each.name]:
                if not given.get(own, False):
                    break
                value = threshold
            result[each.name] = value
    return result
