"""All cases of a system in one encoding, where a case is what is assumed: whether a proof of another case is one of it.

A proof that served once mostly serves again, and asking so costs two questions and nothing to set up.
"""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.copies import Copy, new_solver
from rungproof.logic.proofs.encode_bits import Circuit
from rungproof.logic.proofs.literals import Clause
from rungproof.logic.proofs.reach import own_of
from rungproof.logic.proofs.system import System


class AllCases:
    """`bits` is a rewriting of `system`, cases and all; `served` are sets of clauses that were proofs of one."""

    def __init__(self, system: System, bits: Bits, output: str) -> None:
        self.system, self.bits = system, bits
        step = bits.step
        self.solver = new_solver()
        self.copy = Copy(bits, Circuit(self.solver), [*step.next.values(), step.outputs[output]])
        self.bad = self.copy.output(output)
        self.served: list[tuple[Clause, ...]] = []
        # For each clause what assumes it and what says that it breaks; for each set what says that one of it does.
        self.marks: dict[Clause, tuple[int, int]] = {}
        self.breaks: dict[tuple[Clause, ...], int] = {}

    def proof(self, case: int) -> tuple[Clause, ...] | None:
        """The smallest set that served another case and serves this one."""
        for clauses in sorted(self.served, key=len):
            if self._serves(clauses, case):
                return clauses
        return None

    def serve(self, clauses: Sequence[Clause]) -> None:
        """Keep a proof; only one that can be asked about here is kept."""
        found = tuple(clauses)
        if found not in self.served and self._told(found):
            self.served.append(found)

    def _told(self, clauses: tuple[Clause, ...]) -> bool:
        """Whether all speak of what this encoding has, and hold at the start whatever is free there."""
        own = {(fact.name, fact.bound) for fact in self.bits.facts.values()}
        names = self.bits.step.states.keys() - self.bits.free
        start = {each.name: each.start for each in self.system.step.states.values()}
        return all(
            all(names.issuperset(each.names) or (each.name, each.bound) in own for each in clause)
            and any(self.system.free_starts.isdisjoint(each.names) and each.true_in(start) for each in clause)
            for clause in clauses
        )

    def _serves(self, clauses: tuple[Clause, ...], case: int) -> bool:
        """Whether in this case nothing breaks the clauses, and where they hold the output is off."""
        marks = [self._mark(clause)[0] for clause in clauses]
        if clauses not in self.breaks:
            self.breaks[clauses] = self.copy.circuit.fresh()
            self.solver.add_clause([-self.breaks[clauses], *(self._mark(clause)[1] for clause in clauses)])
        under = [*self._case(case), *marks]
        return not self.solver.solve([self.bad, *under]) and not self.solver.solve([self.breaks[clauses], *under])

    def _mark(self, clause: Clause) -> tuple[int, int]:
        if clause not in self.marks:
            (own,) = own_of(self.bits, [clause])
            self.marks[clause] = self.copy.assumed(own), self.copy.broken(own)
        return self.marks[clause]

    def _case(self, value: int) -> list[int]:
        encoded = self.copy.state[self.system.case]
        assert isinstance(encoded, tuple), "a case is a number"
        return [bit if value >> place & 1 else -bit for place, bit in enumerate(encoded)]
