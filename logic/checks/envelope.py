"""The envelope of a check: what its proofs assume of the plant, watched in every run, and void where a run leaves it.

Proofs bring their assumptions along; equal ones are one, and are numbered. Each is watched as if it were a requirement
of the file. A run that breaks one, once the reference engine has shown the same, takes every proof that rests on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rungproof.logic.checks.proving import ASSUMING, Proof
from rungproof.logic.checks.tally import Count
from rungproof.logic.checks.verdict import EnvelopeResult
from rungproof.logic.checks.verdicts import Violation
from rungproof.logic.meaning.program import Program, Requirement

if TYPE_CHECKING:
    from rungproof.logic.proofs.envelope import Fact


@dataclass(frozen=True, slots=True)
class Envelope:
    """Assumption n is the n-th of `facts`; `behind` names the requirements whose proofs rest on it, `watches` the
    requirements that stand for it in a run."""

    facts: tuple[Fact, ...] = ()
    watches: tuple[tuple[Requirement, ...], ...] = ()
    behind: tuple[tuple[str, ...], ...] = ()

    @property
    def watched(self) -> tuple[Requirement, ...]:
        return tuple(each for watches in self.watches for each in watches)

    @property
    def names(self) -> frozenset[str]:
        """Under which the assumptions are watched."""
        return frozenset(each.name for each in self.watched)

    @property
    def dependents(self) -> frozenset[str]:
        """The requirements that are proved only as long as the plant keeps to the envelope."""
        return frozenset(name for names in self.behind for name in names)

    def around(self, program: Program) -> Program:
        """`program` with the assumptions to be watched beside its own requirements."""
        return replace(program, requirements=(*program.requirements, *self.watched)) if self.watched else program

    def numbers(self, requirement: str) -> tuple[int, ...]:
        """The numbers of the assumptions that the proof of `requirement` rests on."""
        return tuple(number for number, names in enumerate(self.behind, 1) if requirement in names)

    def settled(self, name: str, proof: Proof, broken: Mapping[str, Violation]) -> Proof:
        """The proof of a requirement with the numbers of what it rests on; void where a run broke one of them."""
        numbers = self.numbers(name)
        if not numbers:
            return proof
        gone = [number for number in numbers if self._broken(number, broken) is not None]
        if gone:
            return Proof(None, f"a proof of it is void: a run of the plant breaks {_listed(gone)}")
        return replace(proof, reason=proof.reason.replace(ASSUMING, _listed(list(numbers))))

    def _broken(self, number: int, broken: Mapping[str, Violation]) -> Violation | None:
        found = [broken[each.name] for each in self.watches[number - 1] if each.name in broken]
        return min(found, key=lambda each: each.at, default=None)

    def results(self, counts: Mapping[str, Count], broken: Mapping[str, Violation]) -> tuple[EnvelopeResult, ...]:
        """What is known of each assumption after all runs."""
        found = []
        for number, (fact, watches, behind) in enumerate(zip(self.facts, self.watches, self.behind, strict=True), 1):
            violation = self._broken(number, broken)
            count = counts.get(watches[0].name, Count())
            found.append(
                EnvelopeResult(
                    number,
                    fact.sentence,
                    fact.because,
                    behind,
                    count.runs,
                    None if violation is None else violation.at,
                    None if violation is None else violation.text,
                )
            )
        return tuple(found)


def envelope_of(program: Program, proofs: Mapping[str, Proof]) -> Envelope:
    """What all proofs of a check together assume. Watched wherever a requirement that rests on it may be judged."""
    behind: dict[Fact, list[str]] = {}
    for name, proof in proofs.items():
        for fact in proof.facts if proof.word is not None else ():
            behind.setdefault(fact, []).append(name)
    scope = {each.name: each for each in program.requirements}
    watches = []
    for number, (fact, names) in enumerate(behind.items(), 1):
        faults = any(scope[name].any_one_fault for name in names)
        free = any(scope[name].outputs_free for name in names)
        watches.append(
            tuple(
                fact.as_requirement(f"assumption {number}.{place}", form, any_one_fault=faults, outputs_free=free)
                for place, form in enumerate((fact.form, *fact.also))
            )
        )
    return Envelope(tuple(behind), tuple(watches), tuple(tuple(names) for names in behind.values()))


def _listed(numbers: list[int]) -> str:
    *first, last = (str(each) for each in numbers)
    return f"assumptions {', '.join(first)} and {last}" if first else f"assumption {last}"
