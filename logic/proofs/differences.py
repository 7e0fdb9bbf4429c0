"""Two clocks against each other: facts `x - y <= c`, guessed from runs and kept where they follow from themselves.

What a clock is ahead of another, and where (under one bool or none), is seen in runs drawn by chance and
by the plan's own constants. All guesses are then assumed together, and whatever a transition can break is
dropped, until nothing is (Flanagan, Leino 2001; from memory). What is left holds in every reachable
state; reachability goes on from there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np
from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.chance import states_drawn
from rungproof.logic.proofs.contract import Engine, Result
from rungproof.logic.proofs.lemmas import with_lemmas
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.system import System
from rungproof.logic.proofs.tape import Column
from rungproof.logic.steps.node import ordered
from rungproof.logic.steps.step import StateVariable, Step

#: Clocks and guards that are taken; transitions of the runs that guesses are made from.
MOST_CLOCKS, MOST_GUARDS, STEPS = 20, 80, 240
#: A state that came so seldom says nothing of what is true of it.
LEAST_ROWS = 5
#: Thresholds that a clock is held against.
MOST_CONSTANTS = 12
#: Of those, the smallest are what one clock may be ahead of another.
SMALLEST = 5
#: Guesses that are made at most.
MOST_GUESSES = 8000


def differences(system: System, bits: Bits, output: str) -> Engine:
    """Prove that no run shows `output`, with lemmas about two clocks; never refutes."""
    step = bits.step
    clocks = [each for each in step.states.values() if each.type == "int" and each.high - each.low > 2]
    clocks = [each for each in clocks if each.name not in bits.free]
    if not clocks:
        return Result("unknown", 0)
    guesses = _Guesses(system, bits, clocks[:MOST_CLOCKS]).made()
    yield None
    return (yield from with_lemmas(bits, output, guesses))


def _grows(step: Step, clock: StateVariable) -> bool:
    """Whether a clock becomes more of itself: others only take over what a clock has shown."""
    after = step.next.get(clock.name, clock.node)
    return any(node.operator == "add" and clock.node in node.operands for node in ordered([after]))


# ------------------------------------------------------------------------ guesses


@dataclass(frozen=True)
class _Subject:
    """What a bound is of: a clock (`upward` or from below), or its lead before another; `trivial` bounds
    are not worth saying, and `unless` is when nothing is said."""

    name: str
    minus: str
    upward: bool
    trivial: int
    unless: Clause

    def at_most(self, bound: int) -> Literal:
        return Literal(self.name, bound, True, self.minus) if self.upward else Literal(self.name, -bound - 1, False)


class _Guesses:
    """What held in every state that was seen."""

    def __init__(self, system: System, bits: Bits, clocks: Sequence[StateVariable]) -> None:
        self.step, self.clocks = bits.step, clocks
        self.rows = states_drawn(replace(system, step=bits.step), bits, seed=0, steps=STEPS)
        self.running = [each for each in clocks if _grows(bits.step, each)]
        bools = [each for each in bits.step.states.values() if each.type == "bool" and each.name not in bits.free]
        self.guards = [(each.name, on) for each in bools for on in (True, False)][:MOST_GUARDS]

    def made(self) -> list[Clause]:
        """All guesses, the bolder ones last: that a clock is hardly ahead of another under a guard, though runs
        may have been too short to show it."""
        found: dict[Clause, None] = dict.fromkeys(self._of_two_bools())
        bold: list[Clause] = []
        values = {each.name: self.rows[each.name] for each in self.clocks}
        for x in self.clocks:
            upper = _Subject(x.name, "", True, int(x.high), ())
            lower = _Subject(x.name, "", False, -int(x.low), ())
            for subject, seen in ((upper, values[x.name]), (lower, -values[x.name])):
                found |= dict.fromkeys(self._about(subject, seen))
            for y in self.running:
                if x is not y and x in self.running:
                    # A clock that has run out stands still while the other goes on.
                    ran_out = (Literal(y.name, int(y.high) - 1, False),)
                    subject = _Subject(x.name, y.name, True, int(x.high - y.low), ran_out)
                    counts = values[y.name] < y.high
                    found |= dict.fromkeys(self._about(subject, values[x.name] - values[y.name], counts))
                    bold += self._under_guards(subject, values[x.name] - values[y.name])
        found |= dict.fromkeys(bold)
        return list(found)[:MOST_GUESSES]

    def _of_two_bools(self) -> Iterator[Clause]:
        """One bool that never changed, and two of which one was always as said."""
        held = {guard: self.rows[guard[0]] == guard[1] for guard in self.guards}
        always = [guard for guard, rows in held.items() if rows.all()]
        yield from ((Literal(name, None, on),) for name, on in always)
        for (one, a), (other, b) in combinations(held.items(), 2):
            if one[0] != other[0] and (a | b).all():
                yield (Literal(one[0], None, one[1]), Literal(other[0], None, other[1]))

    def _about(self, subject: _Subject, seen: Column, mask: Column | None = None) -> Iterator[Clause]:
        """Bounds that were seen to hold everywhere, and lesser ones under a guard."""
        rows = np.ones(len(seen), bool) if mask is None else mask
        if rows.sum() < LEAST_ROWS:
            return
        top = int(seen[rows].max())
        yield from self._bounds(subject, top, ())
        for name, on in self.guards:
            guarded = rows & (self.rows[name] == on)
            if guarded.sum() >= LEAST_ROWS:
                under = int(seen[guarded].max())
                if under < top:
                    yield from self._bounds(subject, under, (Literal(name, None, not on),))

    def _under_guards(self, subject: _Subject, seen: Column) -> Iterator[Clause]:
        for name, on in self.guards:
            under = seen[self.rows[name] == on]
            if len(under) >= LEAST_ROWS:
                top = int(under.max())
                for bound in self._places[:SMALLEST]:
                    if top <= bound < subject.trivial:
                        yield (Literal(name, None, not on), *subject.unless, subject.at_most(bound))

    def _bounds(self, subject: _Subject, top: int, guard: Clause) -> Iterator[Clause]:
        """The bound that was seen, and a few above it: runs may have missed the worst, and without a guard twice
        what one under a guard is held against, for a clock starts from where another let go."""
        above = [each for each in self._places if each > top]
        for bound in dict.fromkeys((top, *above, *(2 * each for each in above if not guard))):
            if bound < subject.trivial:
                yield (*guard, *subject.unless, subject.at_most(bound))

    @cached_property
    def _places(self) -> list[int]:
        numbers = {int(n.value) for n in self.step.nodes if n.operator == "constant" and n.type == "int"}
        return sorted({sign * value for value in numbers for sign in (1, -1)}, key=abs)[:MOST_CONSTANTS]
