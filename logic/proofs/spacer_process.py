"""A Step in a solver of Horn clauses, in a process of its own: a job as JSON in, an answer as JSON out.

The solver (Spacer; Komuravelli, Gurfinkel, Chaki 2014; from memory) finds an invariant by itself. It is read as clauses
of our own facts, and whatever has another form is no answer. Nobody takes its word: who asked checks the clauses.
"""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.step import InputVariable, StateVariable, Step
from rungproof.logic.steps.text import parse_step

#: Clauses that an invariant may come to.
MOST_CLAUSES = 4000


class UnreadableError(ValueError):
    """Raised where an invariant, or the Step, has a form that is none of ours."""


def main() -> None:
    job = json.load(sys.stdin)
    limit(int(job["seconds"]) + 2)
    try:
        clauses = prove(parse_step(job["step"]), job["output"], set(job["free"]), int(1000 * job["seconds"]))
    except Exception as error:
        print(json.dumps({"word": "unknown", "why": f"{type(error).__name__}: {error}"[:200]}))
        return
    told = None if clauses is None else [[[e.name, e.bound, e.holds, e.minus] for e in clause] for clause in clauses]
    print(json.dumps({"word": "unknown" if told is None else "proved", "clauses": told}))


def limit(seconds: int) -> None:
    """An end of its own, should nobody end it."""
    if sys.platform != "win32":
        resource = importlib.import_module("resource")
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))


def prove(step: Step, output: str, free: set[str], milliseconds: int) -> list[Clause] | None:
    """Clauses over the states of `step`, bools and whole numbers, under which `output` stays off; None if none came."""
    z3: Any = importlib.import_module("z3")
    sorts = {"bool": z3.BoolSort(), "int": z3.IntSort()}
    variables: list[StateVariable | InputVariable] = [*step.states.values(), *step.inputs.values()]
    terms: dict[Node, Any] = {each.node: z3.Const(f"v{i}", sorts[each.type]) for i, each in enumerate(variables)}
    for node in step.nodes:
        if node not in terms:
            terms[node] = _term(z3, node, [terms[each] for each in node.operands])
    states = list(step.states.values())
    before = [terms[each.node] for each in states]
    after = [terms[step.next[each.name]] if each.name in step.next else terms[each.node] for each in states]
    holds = z3.Function("holds", *(sorts[each.type] for each in states), z3.BoolSort())
    reached = z3.Function("reached", z3.BoolSort())
    solver = z3.Fixedpoint()
    solver.set(engine="spacer", timeout=milliseconds)
    solver.register_relation(holds, reached)
    solver.declare_var(*(terms[each.node] for each in variables))
    given = [_within(z3, terms[e.node], e) for e in step.inputs.values() if e.type == "int"]
    begins = [_within(z3, terms[e.node], e) if e.name in free else terms[e.node] == e.start for e in states]
    solver.rule(holds(*before), begins)
    solver.rule(holds(*after), [holds(*before), *given])
    solver.rule(reached(), [holds(*before), *given, terms[step.outputs[output]]])
    if str(solver.query(reached())) != "unsat":
        return None
    return clauses_of(z3, solver.get_cover_delta(-1, holds), [each.name for each in states])


def _within(z3: Any, term: Any, each: StateVariable | InputVariable) -> Any:
    if each.type == "bool":
        return z3.BoolVal(True)
    return z3.And(int(each.low) <= term, term <= int(each.high))


def _term(z3: Any, node: Node, parts: Sequence[Any]) -> Any:
    if node.operator == "constant":
        return z3.BoolVal(bool(node.value)) if node.type == "bool" else z3.IntVal(int(node.value))
    rules: Mapping[str, Callable[..., Any]] = {
        "and": z3.And,
        "or": z3.Or,
        "not": z3.Not,
        "eq": lambda a, b: a == b,
        "le": lambda a, b: a <= b,
        "lt": lambda a, b: a < b,
        "add": lambda a, b: a + b,
        "sub": lambda a, b: a - b,
        "mul": lambda a, b: a * b,
        "neg": lambda a: -a,
        "abs": lambda a: z3.If(a >= 0, a, -a),
        "select": z3.If,
    }
    if node.operator not in rules or any(each.type == "real" for each in (node, *node.operands)):
        raise UnreadableError(f"{node.operator} of {node.type}")
    return rules[node.operator](*parts)


# --------------------------------------------------------------------- the answer


def clauses_of(z3: Any, formula: Any, names: Sequence[str]) -> list[Clause]:
    """A formula over `Var(0)`, `Var(1)`, ... as clauses over `names`. Raises `UnreadableError` for any other form."""
    return [tuple(clause) for clause in _Reader(z3, names).clauses(formula, True)]


class _Reader:
    def __init__(self, z3: Any, names: Sequence[str]) -> None:
        self.z3, self.names = z3, names

    def clauses(self, formula: Any, holds: bool) -> list[list[Literal]]:
        """The clauses of a formula, or of its contrary."""
        z3 = self.z3
        if z3.is_quantifier(formula):
            raise UnreadableError("a quantifier")
        parts = formula.children()
        if z3.is_not(formula):
            return self.clauses(parts[0], not holds)
        if z3.is_true(formula) or z3.is_false(formula):
            return [] if z3.is_true(formula) is holds else [[]]
        if z3.is_implies(formula):
            sides = [(parts[0], not holds), (parts[1], holds)]
            return self._all(sides) if not holds else self._any(sides)
        if z3.is_and(formula) or z3.is_or(formula):
            sides = [(each, holds) for each in parts]
            return self._all(sides) if z3.is_and(formula) is holds else self._any(sides)
        if z3.is_var(formula):
            return [[Literal(self._name(formula), None, holds)]]
        return self._compared(formula, parts, holds)

    def _all(self, sides: Sequence[tuple[Any, bool]]) -> list[list[Literal]]:
        return [clause for each, holds in sides for clause in self.clauses(each, holds)]

    def _any(self, sides: Sequence[tuple[Any, bool]]) -> list[list[Literal]]:
        found: list[list[Literal]] = [[]]
        for each, holds in sides:
            found = [[*one, *other] for one in found for other in self.clauses(each, holds)]
            if len(found) > MOST_CLAUSES:
                raise UnreadableError("too many clauses")
        return found

    def _compared(self, formula: Any, parts: Sequence[Any], holds: bool) -> list[list[Literal]]:
        z3 = self.z3
        if z3.is_eq(formula) and z3.is_bool(parts[0]):
            a, b = parts
            same = [[(a, False), (b, True)], [(a, True), (b, False)]]
            differ = [[(a, True), (b, True)], [(a, False), (b, False)]]
            return [clause for sides in (same if holds else differ) for clause in self._any(sides)]
        difference = self._linear(parts[0], 1, self._linear(parts[1], -1, {}))
        if z3.is_le(formula) or z3.is_gt(formula):
            return [[self._at_most(difference, 0, z3.is_le(formula) is holds)]]
        if z3.is_lt(formula) or z3.is_ge(formula):
            return [[self._at_most(difference, -1, z3.is_lt(formula) is holds)]]
        if z3.is_eq(formula):
            at_most, less = self._at_most(difference, 0, True), self._at_most(difference, -1, True)
            return [[at_most], [-less]] if holds else [[-at_most, less]]
        raise UnreadableError(str(formula.decl()))

    def _linear(self, term: Any, times: int, found: dict[str, int]) -> dict[str, int]:
        """Adds `times` the coefficients of a sum; those of no variable stand under the empty name."""
        z3, parts = self.z3, term.children()
        if z3.is_int_value(term):
            found[""] = found.get("", 0) + times * int(term.as_long())
        elif z3.is_var(term):
            name = self._name(term)
            found[name] = found.get(name, 0) + times
        elif z3.is_add(term):
            for each in parts:
                self._linear(each, times, found)
        elif z3.is_sub(term):
            for place, each in enumerate(parts):
                self._linear(each, times if place == 0 else -times, found)
        elif z3.is_mul(term) and len(parts) == 2 and z3.is_int_value(parts[0]):
            self._linear(parts[1], times * int(parts[0].as_long()), found)
        else:
            raise UnreadableError(str(term.decl()))
        return found

    def _at_most(self, difference: Mapping[str, int], bound: int, holds: bool) -> Literal:
        """`difference <= bound`, or its contrary."""
        most = bound - difference.get("", 0)
        terms = sorted((factor, name) for name, factor in difference.items() if name and factor)
        if len(terms) == 1:
            factor, name = terms[0]
            if factor > 0:
                return Literal(name, most // factor, holds)
            # k x <= m with k < 0: x is no less than m / k, rounded up.
            return Literal(name, -(most // -factor) - 1, not holds)
        if [factor for factor, _ in terms] == [-1, 1]:
            return Literal(terms[1][1], most, holds, terms[0][1])
        raise UnreadableError("a sum of several numbers")

    def _name(self, variable: Any) -> str:
        place: int = self.z3.get_var_index(variable)
        return self.names[place]


if __name__ == "__main__":
    main()
