"""Copies of a Step's transition in a SAT solver, and what its models say in plain values."""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Mapping
from typing import Any

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.encode_bits import Circuit, Encoded, Encoder
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.steps.intervals import ranges
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable, StateVariable

#: The SAT solver that engines ask, by python-sat's name of it.
SOLVER = "glucose4"


def new_solver() -> Any:
    """A SAT solver of python-sat, loaded here and not before."""
    return importlib.import_module("pysat.solvers").Solver(name=SOLVER)


class Copy:
    """One transition: literals of the state before it, of its inputs, and of all that follows from them."""

    def __init__(self, bits: Bits, circuit: Circuit, roots: Iterable[Any], state: Mapping[str, Encoded] | None = None):
        self.bits, self.circuit = bits, circuit
        step = bits.step
        self.state = dict(state) if state is not None else {s.name: self._any(s) for s in step.states.values()}
        self.inputs = {each.name: self._any(each) for each in step.inputs.values()}
        roots = list(roots)
        self.found = Encoder(circuit, roots, ranges(step)).encode({**self.state, **self.inputs}, roots)
        self._cache: dict[tuple[bool, Literal], int] = {}

    def _any(self, each: StateVariable | InputVariable) -> Encoded:
        if each.type == "bool":
            return self.circuit.fresh()
        return self.circuit.any_number(int(each.low), int(each.high))

    def output(self, name: str) -> int:
        return int(self.found[self.bits.step.outputs[name]])

    def after(self) -> dict[str, Encoded]:
        """The literals of the state after the transition."""
        step = self.bits.step
        return {name: self.found[step.next[name]] if name in step.next else self.state[name] for name in step.states}

    def before_literal(self, literal: Literal) -> int:
        return self._literal(literal, False)

    def after_literal(self, literal: Literal) -> int:
        return self._literal(literal, True)

    def assumed(self, clause: Iterable[Literal]) -> int:
        """A literal under which a clause over the rewritten Step's states holds before the transition."""
        mark = self.circuit.fresh()
        self.circuit.solver.add_clause([-mark, *(self.before_literal(each) for each in clause)])
        return mark

    def broken(self, clause: Iterable[Literal]) -> int:
        """A literal under which such a clause does not hold after it."""
        mark = self.circuit.fresh()
        for each in clause:
            self.circuit.solver.add_clause([-mark, -self.after_literal(each)])
        return mark

    def _fact(self, literal: Literal, after: bool) -> int:
        encoded = self._encoded(literal.name, after)
        if not literal.minus:
            return fact(self.circuit, encoded, literal)
        other = self._encoded(literal.minus, after)
        assert isinstance(encoded, tuple), "differences are of numbers"
        assert isinstance(other, tuple), "differences are of numbers"
        assert literal.bound is not None, "a difference has a bound"
        return self.circuit.difference_at_most(encoded, other, int(literal.bound))

    def _encoded(self, name: str, after: bool) -> Encoded:
        step = self.bits.step
        found: Encoded = self.found[step.next[name]] if after and name in step.next else self.state[name]
        return found

    def _literal(self, literal: Literal, after: bool) -> int:
        key = after, Literal(literal.name, literal.bound, minus=literal.minus)
        if key not in self._cache:
            self._cache[key] = self._fact(literal, after)
        return self._cache[key] if literal.holds else -self._cache[key]


def fact(circuit: Circuit, encoded: Encoded, literal: Literal) -> int:
    """The solver literal of a positive literal over the given value."""
    if literal.bound is None:
        assert isinstance(encoded, int), "a bool is one literal"
        return encoded
    assert isinstance(encoded, tuple), "a number is several"
    bound = int(literal.bound)
    return circuit.less(encoded, circuit.number(bound, bound.bit_length() + 1), or_equal=True)


def start_clauses(bits: Bits) -> list[Clause]:
    """What holds of the state at the start, as clauses over the rewritten Step's own states."""
    clauses: list[Clause] = []
    for state in bits.step.states.values():
        if state.name in bits.free:
            continue
        if state.type == "bool":
            clauses.append((Literal(state.name, None, bool(state.start)),))
        else:
            clauses += [(Literal(state.name, state.start),), (Literal(state.name, state.start - 1, False),)]
    own = {each: name for name, each in bits.facts.items()}
    for clause in bits.start_clauses:
        clauses.append(tuple(_own(literal, own) for literal in clause))
    return clauses


def _own(literal: Literal, own: Mapping[Literal, str]) -> Literal:
    return Literal(own[literal]) if literal in own else Literal(own[-literal], None, False)


class Reading:
    """What a model of the solver says."""

    def __init__(self, solver: Any) -> None:
        # By variable, from 1 on; one that stands in no clause may be missing, and counts as off.
        self.model = solver.get_model()

    def value(self, encoded: Encoded) -> Scalar:
        if isinstance(encoded, int):
            return self._holds(encoded)
        total = sum(1 << place for place, bit in enumerate(encoded[:-1]) if self._holds(bit))
        return total - (1 << len(encoded) - 1) if self._holds(encoded[-1]) else total

    def values(self, encoded: Mapping[str, Encoded]) -> dict[str, Scalar]:
        return {name: self.value(each) for name, each in encoded.items()}

    def _holds(self, literal: int) -> bool:
        place = abs(literal) - 1
        return (place < len(self.model) and self.model[place] > 0) == (literal > 0)
