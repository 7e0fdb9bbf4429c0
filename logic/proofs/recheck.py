"""Is an invariant one? A second opinion on a proof, by another solver through another encoding.

On the Step as it is, nothing abstracted: the clauses hold at the start, a step keeps them,
and where they hold `bad` is off. The start is plain evaluation; the rest is asked of a
solver in a process of its own. Anything but three clear answers is `Unknown`.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal as Word

from rungproof.logic.proofs.literals import Clause, Invariant, Literal
from rungproof.logic.proofs.recheck_solver import ask
from rungproof.logic.proofs.smt import Encoding, literal
from rungproof.logic.proofs.smt_ranges import Number, is_finite
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import OPERATORS, Scalar
from rungproof.logic.steps.step import Step

Obligation = Word["initiation", "consecution", "safety"]
#: The obligations that the solver is asked for, in order.
_ASKED: tuple[Obligation, ...] = ("safety", "consecution")
#: Of more nodes than this, what lies so near is tried alone first, for so much of the time.
LARGE, NEAR, NEAR_SHARE = 1500, 24, 0.3


@dataclass(frozen=True, slots=True)
class Verified:
    """All three obligations hold; `seconds` is what that took."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Failed:
    """The invariant is none: `model` gives a state and inputs of the Step, evaluated plainly, that show it."""

    obligation: Obligation
    model: Mapping[str, Scalar]
    clause: Clause | None = None

    def __str__(self) -> str:
        at_fault = f" of `{' or '.join(str(each) for each in self.clause)}`" if self.clause else ""
        told = ", ".join(f"{name} = {value}" for name, value in self.model.items())
        return f"{self.obligation}{at_fault} fails with {told}"


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nothing is known; `why` in words."""

    why: str

    def __str__(self) -> str:
        return self.why


Answer = Verified | Failed | Unknown


def recheck(system: System, invariant: Invariant, deadline_s: float) -> Answer:
    """Check `invariant` on the cone of influence of `system.bad`. Raises nothing."""
    begun = time.monotonic()
    try:
        answer = _Check(system, invariant).run(deadline_s)
    except (ArithmeticError, ValueError, KeyError, TypeError, RecursionError, MemoryError) as error:
        return Unknown(f"the check broke off: {type(error).__name__}: {error}")
    return answer if answer is not None else Verified(time.monotonic() - begun)


class _Check:
    def __init__(self, system: System, invariant: Invariant) -> None:
        self.begun = time.monotonic()
        self.system, self.invariant = system, invariant
        self.step = _cone(system, invariant)

    def run(self, deadline_s: float) -> Failed | Unknown | None:
        """What is wrong, or None."""
        unfit = self._unfit()
        if unfit is not None:
            return Unknown(unfit)
        begins = self._initiation()
        return begins if begins is not None else self._solve(deadline_s)

    def _unfit(self) -> str | None:
        """Why the clauses are none about this system."""
        for each in (each for clause in self.invariant.clauses for each in clause):
            for name in each.names:
                if name not in self.step.states:
                    return f"`{name}` is no state of the system"
            state = self.step.states[each.name]
            if each.minus and {self.step.states[name].type for name in each.names} != {"int"}:
                return f"`{each}` is no difference of whole numbers"
            if each.minus and not self.system.free_starts.isdisjoint(each.names):
                return f"`{each}` speaks of a parameter"
            if (state.type == "bool") != (each.bound is None):
                return f"`{each.name}` is {state.type}, and the clause takes it for something else"
            if each.bound is not None and not math.isfinite(each.bound):
                return f"`{each.name}` is compared with {each.bound}"
        return None

    # -------------------------------------------------------------- the start

    def _initiation(self) -> Failed | None:
        """Start values are known, or (parameters) any of a range, each for itself."""
        starts = {name: each.start for name, each in self.step.states.items()}
        free = self.system.free_starts & self.step.states.keys()
        for clause in self.invariant.clauses:
            if any(each.name not in free and _true_of(each, starts) for each in clause):
                continue
            open_ = {name: self._escape(name, clause) for name in free}
            if all(value is not None for value in open_.values()):
                told = {**starts, **{name: value for name, value in open_.items() if value is not None}}
                return Failed("initiation", told, clause)
        return None

    def _escape(self, name: str, clause: Clause) -> Scalar | None:
        """A start value of a free state at which no literal of `clause` about it is true; None if there is none."""
        state, about = self.step.states[name], [each for each in clause if each.name == name and not each.minus]
        if state.type == "bool":
            candidates: list[Scalar] = [False, True]
        else:
            candidates = [state.low, state.high]
            for each in about:
                if each.bound is not None:
                    candidates += [each.bound, _after(each.bound, state.type)]
            candidates = [each for each in candidates if state.low <= each <= state.high]
        return next((value for value in candidates if not any(_true_of(each, {name: value}) for each in about)), None)

    # -------------------------------------------------------------- the solver

    def _solve(self, deadline_s: float) -> Failed | Unknown | None:
        """First of what lies near the clauses, where there is much more: what nothing near can break, nothing can."""
        is_large = self.invariant.clauses and len(self.step.nodes) > LARGE
        if is_large and self._asked(NEAR_SHARE * deadline_s, NEAR) is None:
            return None
        return self._asked(deadline_s, None)

    def _asked(self, deadline_s: float, depth: int | None) -> Failed | Unknown | None:
        """What is wrong, or None; with truths more than `depth` nodes away free it only may be."""
        bounds = [each.bound for clause in self.invariant.clauses for each in clause if each.bound is not None]
        encoding = Encoding(self.step, tuple(dict.fromkeys(bounds)), self._roots(), depth)
        for each in (each for clause in self.invariant.clauses for each in clause):
            if each.bound is not None and not self._is_bounded(encoding, each.name):
                return Unknown(f"the range of `{each.name}` is not shown")
        left = deadline_s - (time.monotonic() - self.begun)
        answer = ask(self._lines(encoding), left, questions=len(_ASKED))
        for obligation, word, values in zip(_ASKED, answer.words, answer.values, strict=True):
            if word == "unknown":
                return Unknown(answer.why or "the solver does not know")
            if word == "sat" and depth is not None:
                return Unknown("what is further away plays a part")
            if word == "sat":
                return self._shown(obligation, encoding, values)
        return None

    @property
    def _named(self) -> tuple[str, ...]:
        """The states that the clauses speak of."""
        return tuple(dict.fromkeys(name for clause in self.invariant.clauses for each in clause for name in each.names))

    def _roots(self) -> list[Node]:
        """What the questions are about: `bad`, and what the states of the clauses are and become. What the others
        become plays no part in a single step; what they are may be anything within ranges that all states keep."""
        step = self.step
        became = [step.next[name] for name in self._named if name in step.next]
        return [step.outputs[self.system.bad], *(step.states[name].node for name in self._named), *became]

    def _is_bounded(self, encoding: Encoding, name: str) -> bool:
        """A real must be known to be a number and the same after the step."""
        state = self.step.states[name]
        after = self.step.next.get(name, state.node)
        spans = encoding.ranges.get(name, (-math.inf, math.inf)), encoding.bounds.get(after, (state.low, state.high))
        return state.type != "real" or all(is_finite(each) for each in spans)

    def _lines(self, encoding: Encoding) -> list[str]:
        """The questions: can `bad` be on where the clauses hold; can a step break one of them?"""
        before = {name: encoding.terms[self.step.states[name].node] for name in self._named}
        became = {name: self.step.next[name] for name in self._named if name in self.step.next}
        after = {**before, **{name: encoding.terms[node] for name, node in became.items()}}
        types = {name: each.type for name, each in self.step.states.items()}
        holds = [f"(assert {_clause(clause, before, types)})" for clause in self.invariant.clauses]
        kept = [_clause(clause, after, types) for clause in self.invariant.clauses]
        broken = f"(or {' '.join(f'(not {each})' for each in kept)} false)"
        values = f"(get-value ({' '.join(encoding.variables.values())}))" if encoding.variables else ""
        bad = encoding.terms[self.step.outputs[self.system.bad]]
        return [
            "(set-option :produce-models true)",
            *encoding.lines,
            *holds,
            "(push)",
            f"(assert {bad})",
            "(check-sat)",
            values,
            "(pop)",
            f"(assert {broken})",
            "(check-sat)",
            values,
        ]

    # ------------------------------------------------------------------ models

    def _at_rest(self) -> dict[str, Scalar]:
        """A value of every variable, for those that the questions do not read."""
        starts = {name: each.start for name, each in self.step.states.items()}
        kinds = {"bool": bool, "int": int, "real": float}
        return {**starts, **{each.name: kinds[each.type](each.low) for each in self.step.inputs.values()}}

    def _shown(
        self, obligation: Obligation, encoding: Encoding, values: Mapping[str, Scalar | Fraction]
    ) -> Failed | Unknown:
        """A model counts only if plain evaluation says the same: free constants may have lied."""
        model = {**self._at_rest(), **{name: _plain(values[term]) for name, term in encoding.variables.items()}}
        found = _evaluate(self.step, model)
        state = {name: model[name] for name in self.step.states}
        if all(_holds(clause, state) for clause in self.invariant.clauses):
            if obligation == "safety" and found[self.step.outputs[self.system.bad]]:
                return Failed("safety", model)
            after = {**state, **{name: found[node] for name, node in self.step.next.items()}}
            for clause in self.invariant.clauses:
                if obligation == "consecution" and not _holds(clause, after):
                    return Failed("consecution", model, clause)
        return Unknown(f"{obligation} fails only for values that rounded arithmetic does not give")


def _cone(system: System, invariant: Invariant) -> Step:
    """The part that `bad` and the clauses read; a clause about anything else cannot be judged on less."""
    named = {name for clause in invariant.clauses for each in clause for name in each.names} & system.step.states.keys()
    watched = {f"watched {name}": system.step.states[name].node for name in named}
    step = system.step
    wider = Step(step.states, step.inputs, step.next, {system.bad: step.outputs[system.bad], **watched})
    return wider.slice(list(wider.outputs))


def _true_of(each: Literal, state: Mapping[str, Scalar]) -> bool:
    """What a literal says of a state; written apart from the literal's own method, which provers use."""
    value = state[each.name]
    if each.minus:
        value -= state[each.minus]
    said = bool(value) if each.bound is None else value <= each.bound
    return said if each.holds else not said


def _holds(clause: Clause, state: Mapping[str, Scalar]) -> bool:
    return any(_true_of(each, state) for each in clause)


def _after(value: Number, type_: str) -> Scalar:
    return math.floor(value) + 1 if type_ == "int" else math.nextafter(float(value), math.inf)


def _clause(clause: Clause, terms: Mapping[str, str], types: Mapping[str, str]) -> str:
    return f"(or {' '.join(_literal(each, _term(each, terms), types[each.name]) for each in clause)} false)"


def _term(each: Literal, terms: Mapping[str, str]) -> str:
    return f"(- {terms[each.name]} {terms[each.minus]})" if each.minus else terms[each.name]


def _literal(each: Literal, term: str, type_: str) -> str:
    said = term
    if each.bound is not None:
        bound = math.floor(each.bound) if type_ == "int" else float(each.bound)
        said = f"(<= {term} {literal(bound, type_)})"
    return said if each.holds else f"(not {said})"


def _plain(value: Scalar | Fraction) -> Scalar:
    return float(value) if isinstance(value, Fraction) else value


def _evaluate(step: Step, variables: Mapping[str, Scalar]) -> dict[Node, Scalar]:
    found: dict[Node, Scalar] = {}
    for node in ordered([*step.next.values(), *step.outputs.values()]):
        if node.operator == "constant":
            found[node] = node.value
        elif node.operator == "variable":
            found[node] = variables[node.name]
        else:
            found[node] = OPERATORS[node.operator].plain(*(found[each] for each in node.operands))
    return found
