"""Lemmas about two clocks: what they prove holds, and the second solver sees every mistake in them."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from lemma_proofs import believe_guesses, finished, wrong_proofs
from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs import differences as clocks
from rungproof.logic.proofs.certificate import certify, read_certificate
from rungproof.logic.proofs.contract import Engine, Result
from rungproof.logic.proofs.copies import new_solver
from rungproof.logic.proofs.encode_bits import Circuit
from rungproof.logic.proofs.literals import Invariant, Literal
from rungproof.logic.proofs.portfolio import CLOCKS, LEADS, Forms, decide
from rungproof.logic.proofs.recheck import Unknown, Verified, recheck
from rungproof.logic.proofs.system import requirement_system

EXAMPLES = Path(__file__).parents[3] / "examples"
#: Requirements of the examples that need two clocks held against each other.
OF_TWO_CLOCKS = [("header_tank", "R5"), ("ventilation_fan", "R3"), ("sump_pair", "R7"), ("sump_pair", "R8")]


@cache
def program_of(example: str) -> Program:
    found = understand(EXAMPLES / example).program
    assert found is not None
    return found


def requirement_of(program: Program, name: str) -> Requirement:
    return next(each for each in program.requirements if each.name == name)


@pytest.mark.parametrize(("example", "name"), OF_TWO_CLOCKS)
def test_what_holds_two_clocks_against_each_other_is_proved(example: str, name: str) -> None:
    """Starts in any hour, and answers within a time: proved, checked by the second solver, told in sentences."""
    program = program_of(example)
    requirement = requirement_of(program, name)
    system = requirement_system(program, requirement)
    answer = decide(system, system.bad, 30.0)
    assert answer.word == "proved"
    assert answer.engine in (CLOCKS, LEADS)
    invariant = Invariant(answer.clauses)
    assert any(each.minus for clause in invariant.clauses for each in clause)
    assert isinstance(recheck(system, invariant, 20.0), Verified)
    certificate = certify(program, requirement, invariant, answer.engine, {})
    assert read_certificate(certificate.to_text()).invariant == invariant
    assert any("is no more than" in each for each in certificate.sentences)
    less = [clause for clause in invariant.clauses if not any(each.minus for each in clause)]
    assert not isinstance(recheck(system, Invariant(tuple(less)), 20.0), Verified)


def test_one_more_start_an_hour_is_not_proved() -> None:
    """Fourteen in any hour is too few to allow: four minutes of rest make fifteen possible."""
    program = program_of("header_tank")
    requirement = requirement_of(program, "R5")
    tighter = replace(requirement, form=replace(requirement.form, count=14))  # type: ignore[type-var]
    system = requirement_system(program, tighter)
    forms = Forms(system, system.bad)
    engine = clocks.differences(forms.system, forms.fine, system.bad)
    for _, each in zip(range(100), engine, strict=False):
        assert each is None


# ------------------------------------------------------------------ differential


def by_differences(forms: Forms) -> Engine:
    """The engine, where the form is exact."""
    if not forms.fine.exact:
        return Result("unknown", 0)
    return (yield from clocks.differences(forms.system, forms.fine, forms.output))


def test_lemmas_never_prove_what_does_not_hold() -> None:
    """On generated programs: reachable states fulfil every clause, and the second solver agrees to all of them."""
    counts, wrong = wrong_proofs(by_differences, range(60))
    assert wrong == []
    assert counts["proved"] > 10
    assert counts["tried"] > 5


def test_guesses_that_nobody_checks_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what was seen in runs is taken for true. It is not inductive, or the solver objects."""
    believe_guesses(monkeypatch)
    program = program_of("header_tank")
    system = requirement_system(program, requirement_of(program, "R5"))
    forms = Forms(system, system.bad)
    found = finished(clocks.differences(forms.system, forms.fine, system.bad))
    assert found.word == "proved"
    assert not isinstance(recheck(forms.system, Invariant(found.clauses), 20.0), Verified)


def test_a_difference_is_encoded_to_the_last_number() -> None:
    """`x - y <= c` of all numbers of three bits and a sign, whatever their widths."""
    solver = new_solver()
    circuit = Circuit(solver)
    for x, y, bound in product(range(-8, 8), range(-3, 4), range(-12, 13)):
        a, b = circuit.number(x, 4), circuit.number(y, 3)
        assert circuit.difference_at_most(a, b, bound) == circuit.constant(x - y <= bound)


def test_a_difference_with_a_parameter_is_not_judged() -> None:
    """The second solver knows start values, not which parameter was chosen."""
    text = """\
controller "Wait" every 10 ms

tags
    a     input      bool
    wait  parameter  int ms 100..500 = 200
    m     output     bool  on stop off

rung m
    a
    on-delay wait as waited
    => m

requirement R1 "Never at once"
    never m and not a
"""
    program = understand_texts({"it.rung": text}).program
    assert program is not None
    system = requirement_system(program, program.requirements[0])
    claimed = Invariant(((Literal("waited#elapsed", 0, True, "wait"),),))
    answer = recheck(system, claimed, 10.0)
    assert isinstance(answer, Unknown)
    nonsense = Invariant(((Literal("waited#elapsed", 0, True, "m"),),))
    assert isinstance(recheck(system, nonsense, 10.0), Unknown)


def test_a_certificate_with_a_strange_difference_is_none() -> None:
    """`minus` belongs to numbers, and names one."""
    program = program_of("ventilation_fan")
    requirement = requirement_of(program, "R3")
    clause = (Literal("R3/age", 20, True, "no_air#elapsed"),)
    told = json.loads(certify(program, requirement, Invariant((clause,)), "", {}).to_text())
    assert told["invariant"] == [[{"state": "R3/age", "minus": "no_air#elapsed", "at most": 20}]]
    strange = [{"minus": "b", "is": "on"}, {"minus": 3, "at most": 1}, {"minus": "", "at most": 1}, {"minus": "b"}]
    for fact in ({"state": "a", **each} for each in strange):
        with pytest.raises(ValueError, match=r"minus|fact"):
            read_certificate(json.dumps({**told, "invariant": [[fact]]}))
