"""Guesses assumed together, and whatever a transition can break dropped, until nothing is (Flanagan, Leino 2001;
from memory). What is left holds in every reachable state."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.copies import Copy, Reading, new_solver
from rungproof.logic.proofs.encode_bits import Circuit
from rungproof.logic.proofs.literals import Clause

#: Conflicts after which the question "can any of them break?" is put one guess at a time: of thousands that all
#: hold it is the hardest there is.
MOST_CONFLICTS = 1500
#: Such questions between two turns of other engines.
QUESTIONS = 40
#: What a clause is known to follow from; None where nothing is known.
Rests = Callable[[Clause], Sequence[Clause] | None]


class Houdini:
    """Clauses assumed together; those that a transition can break are dropped."""

    def __init__(self, bits: Bits, output: str) -> None:
        step = bits.step
        self.bits = bits
        self.solver = new_solver()
        self.copy = Copy(bits, Circuit(self.solver), [*step.next.values(), step.outputs[output]])
        # Of each guess: the mark that assumes it, and the literal that says that it breaks.
        self.marks: dict[int, tuple[Clause, int]] = {}
        self.cores: dict[Clause, list[int]] = {}

    @property
    def clauses(self) -> list[Clause]:
        return [clause for clause, _ in self.marks.values()]

    def drop_what_breaks(self, guesses: Iterable[Clause]) -> Iterator[None]:
        """Sets `clauses`; yields between two questions."""
        start = {each.name: each.start for each in self.bits.step.states.values()}
        for clause in guesses:
            if not any(literal.true_in(start) for literal in clause):
                continue
            self.marks[self.copy.assumed(clause)] = clause, self.copy.broken(clause)
        breaks: bool | None = True
        while self.marks and breaks:
            yield None
            ask = self.copy.circuit.fresh()
            self.solver.add_clause([-ask, *(broken for _, broken in self.marks.values())])
            self.solver.conf_budget(MOST_CONFLICTS)
            breaks = self.solver.solve_limited([ask, *self.marks])
            if breaks:
                self._drop()
            self.solver.add_clause([-ask])
        if breaks is None:
            yield from self._one_by_one()

    def _one_by_one(self) -> Iterator[None]:
        """Until every guess follows from guesses that are left."""
        pending = deque(self.marks)
        cores: dict[int, list[int]] = {}
        while pending:
            mark = pending.popleft()
            if mark not in self.marks:
                continue
            if len(pending) % QUESTIONS == 0:
                yield None
            if self.solver.solve([self.marks[mark][1], *self.marks]):
                self._drop()
                shaken = [each for each, core in cores.items() if not self.marks.keys() >= set(core)]
                pending.extend([mark, *shaken])
                cores = {each: core for each, core in cores.items() if each not in shaken}
            else:
                broken = self.marks[mark][1]
                cores[mark] = [each for each in self.solver.get_core() or () if each != broken]
        self.cores = {self.marks[mark][0]: core for mark, core in cores.items() if mark in self.marks}

    def rests(self, clause: Clause) -> list[Clause] | None:
        """The clauses that a clause was seen to follow from; None where nobody looked."""
        core = self.cores.get(clause)
        return None if core is None else [self.marks[each][0] for each in core]

    def _drop(self) -> None:
        """Leave out what is off after the transition that the solver has shown."""
        after = Reading(self.solver).values(self.copy.after())
        self.marks = {
            mark: (clause, broken)
            for mark, (clause, broken) in self.marks.items()
            if any(literal.true_in(after) for literal in clause)
        }


def trimmed(bits: Bits, output: str, clauses: Sequence[Clause], rests: Rests = lambda clause: None) -> list[Clause]:
    """Clauses enough to keep `output` off and to follow from themselves, of those given, which do. `rests`: what
    some of them were seen to follow from."""
    step = bits.step
    solver = new_solver()
    copy = Copy(bits, Circuit(solver), [*step.next.values(), step.outputs[output]])
    marks = {copy.assumed(clause): clause for clause in dict.fromkeys(clauses)}
    places = {clause: mark for mark, clause in marks.items()}

    def core(*goal: int) -> list[int]:
        if solver.solve([*goal, *marks]):
            raise AssertionError("the clauses do not follow from themselves")
        return [mark for mark in solver.get_core() or () if mark in marks]

    def under(mark: int) -> list[int]:
        known = rests(marks[mark])
        if known is not None:
            return [places[each] for each in known]
        return core(*(-copy.after_literal(each) for each in marks[mark]))

    return [marks[mark] for mark in needed(core(copy.output(output)), under, len(marks))]


def needed(first: Iterable[int], under: Callable[[int], Iterable[int]], most: int) -> list[int]:
    """`first`, and what is under them in turn; all `most` of them need not be looked at further."""
    wanted = dict.fromkeys(first)
    pending = list(wanted)
    while pending and len(wanted) < most:
        for mark in under(pending.pop()):
            if mark not in wanted:
                wanted[mark] = None
                pending.append(mark)
    return list(wanted)
