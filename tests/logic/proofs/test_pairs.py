"""Lemmas about two bools: a sequence in which one step is on, and the mistakes that they could make."""

from __future__ import annotations

import pytest
from lemma_proofs import believe_guesses, finished, system_of, wrong_proofs
from rungproof.logic.proofs import houdini
from rungproof.logic.proofs import pairs as lemmas
from rungproof.logic.proofs.contract import Engine
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import BAD


def sequence(steps: int, *, both: str = "") -> str:
    """Steps that follow each other round, each after its time; `both`: a line more, after the last rung."""
    tags = ["go input bool", *(f"step_{i} memory bool{'' if i else ' = on'}" for i in range(steps))]
    rungs = [
        f"rung leave_{i}\n    step_{i}\n    go\n    on-delay {20 + i} ms as time_{i}\n"
        f"    => set step_{(i + 1) % steps}\n    => reset step_{i}\n"
        for i in range(steps)
    ]
    apart = " or ".join(f"(step_{i} and step_{(i + 3) % steps})" for i in range(steps))
    lines = ['controller "Round" every 5..20 ms', "", "tags", *(f"    {each}" for each in tags), "", *rungs, both]
    return "\n".join([*lines, 'requirement R1 "One at a time"', f"    never {apart}", ""])


def paired(forms: Forms) -> Engine:
    return lemmas.pairs(forms.system, forms.coarse, BAD)


def test_of_a_sequence_one_step_is_on() -> None:
    """Every two of fourteen steps shut each other out: proved at once, and checked by the second solver."""
    forms = Forms(system_of(sequence(14)), BAD)
    found = finished(paired(forms))
    assert found.word == "proved"
    assert len(found.clauses) == 14 * 13 // 2
    assert all(len(clause) == 2 and not any(each.holds for each in clause) for clause in found.clauses)
    assert isinstance(recheck(forms.system, Invariant(found.clauses), 30.0), Verified)
    less = Invariant(found.clauses[1:])
    assert not isinstance(recheck(forms.system, less, 30.0), Verified)


def test_a_step_that_two_can_reach_is_not_proved() -> None:
    """A rung more sets a step while another is on."""
    wrong = "rung jump\n    step_9\n    rising go\n    => set step_12\n"
    assert finished(paired(Forms(system_of(sequence(14, both=wrong)), BAD)), 400).word != "proved"


def test_questions_put_one_by_one_say_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where all at once is too hard a question, each guess is asked for: the same guesses are left."""
    forms = Forms(system_of(sequence(14)), BAD)
    at_once = finished(paired(forms)).clauses
    monkeypatch.setattr(houdini, "MOST_CONFLICTS", 1)
    assert set(finished(paired(forms)).clauses) == set(at_once)


def test_pairs_never_prove_what_does_not_hold() -> None:
    """On generated programs: what is proved holds in every state, and the second solver agrees."""
    counts, wrong = wrong_proofs(paired, range(80, 170))
    assert wrong == []
    assert counts["proved"] > 25
    assert counts["tried"] > 15


def test_pairs_that_nobody_checks_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what was seen in runs is taken for true. The second solver objects."""
    # Runs are too short to count so far.
    late = """\
controller "Late" every 10 ms

tags
    a     input   bool
    b     input   bool
    late  memory  bool
    n     memory  bool
    m     memory  bool

rung m
    late
    => m

rung n
    b
    => set n

rung late
    a
    n
    count-up 900 as many clear by b
    => set late

requirement R1 "Never so late"
    never m
"""
    forms = Forms(system_of(late), BAD)
    assert finished(paired(forms), 200).word != "proved"
    believe_guesses(monkeypatch)
    found = finished(paired(forms))
    assert found.word == "proved"
    assert not isinstance(recheck(forms.system, Invariant(found.clauses), 20.0), Verified)
