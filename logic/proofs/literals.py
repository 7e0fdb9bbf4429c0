"""What invariants are made of: facts about single state variables, and clauses of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rungproof.logic.steps.operators import Scalar


@dataclass(frozen=True, slots=True, order=True)
class Literal:
    """`name` is on (`bound` None), or `name <= bound`; the contrary where `holds` is False.

    With `minus`, of two whole numbers: `name - minus <= bound`.
    """

    name: str
    bound: float | int | None = None
    holds: bool = True
    minus: str = ""

    def __neg__(self) -> Literal:
        return Literal(self.name, self.bound, not self.holds, self.minus)

    @property
    def names(self) -> tuple[str, ...]:
        """The states that it speaks of."""
        return (self.name, self.minus) if self.minus else (self.name,)

    def true_in(self, state: Mapping[str, Scalar]) -> bool:
        value = state[self.name] - state[self.minus] if self.minus else state[self.name]
        fact = bool(value) if self.bound is None else value <= self.bound
        return fact is self.holds

    def __str__(self) -> str:
        if self.bound is None:
            return self.name if self.holds else f"not {self.name}"
        name = f"{self.name} - {self.minus}" if self.minus else self.name
        return f"{name} {'<=' if self.holds else '>'} {self.bound!r}"


#: One of them holds.
Clause = tuple[Literal, ...]


@dataclass(frozen=True)
class Invariant:
    """All `clauses` hold in every reachable state of a system, and while they hold `bad` stays off."""

    clauses: tuple[Clause, ...] = ()

    def true_in(self, state: Mapping[str, Scalar]) -> bool:
        return all(any(literal.true_in(state) for literal in clause) for clause in self.clauses)

    def __str__(self) -> str:
        return "\n".join(" or ".join(str(each) for each in clause) for clause in self.clauses)
