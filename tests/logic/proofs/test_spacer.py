"""The solver of Horn clauses: its invariants are read, checked, and never taken on trust."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest
import z3
from lemma_proofs import finished, system_of, wrong_proofs
from rungproof.logic.proofs import spacer as asked
from rungproof.logic.proofs.contract import Engine
from rungproof.logic.proofs.literals import Invariant, Literal
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.spacer_process import UnreadableError, clauses_of
from rungproof.logic.proofs.system import BAD
from test_leads import steps
from test_pairs import sequence


def last_resort(forms: Forms, seconds: float = 20.0) -> Engine:
    return asked.spacer(forms.fine, BAD, seconds)


def test_a_short_sequence_is_proved_by_it() -> None:
    """Five steps on the abstraction: an invariant that our solver and the second one agree to."""
    forms = Forms(system_of(sequence(5)), BAD)
    found = finished(asked.spacer(forms.coarse, BAD, 30.0), 100_000)
    assert found.word == "proved"
    assert isinstance(recheck(forms.system, Invariant(found.clauses), 30.0), Verified)


def test_it_never_proves_what_does_not_hold() -> None:
    """On generated programs: what is proved holds in every state, and the second solver agrees."""
    counts, wrong = wrong_proofs(last_resort, range(6), 100_000)
    assert wrong == []
    assert counts["proved"] > 3


@pytest.mark.parametrize("clauses", [[], [[["step_1", None, False, ""]]], [[["step_0", None, True, ""]]]])
def test_a_wrong_answer_of_it_is_no_proof(clauses: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: the process says proved, and its clauses are no invariant."""

    def said(*given: Any) -> Any:
        yield None
        return {"word": "proved", "clauses": clauses}

    monkeypatch.setattr(asked, "_said", said)
    assert finished(asked.spacer(Forms(system_of(sequence(5)), BAD).coarse, BAD, 30.0)).word == "unknown"


@pytest.mark.parametrize(
    "program", ["print('{')", "print('3')", "import os; os.abort()", "import time; time.sleep(60)"]
)
def test_a_process_that_dies_or_hangs_is_unknown(program: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever becomes of the process, there is no proof, and an end."""
    run = subprocess.Popen
    monkeypatch.setattr(subprocess, "Popen", lambda command, **given: run([sys.executable, "-c", program], **given))
    forms = Forms(system_of(steps(4, 100)), BAD)
    assert finished(last_resort(forms, 1.0), 100_000).word == "unknown"


def test_a_process_is_ended_with_its_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that nobody wants any more leaves no process behind."""
    started: list[Any] = []
    run = subprocess.Popen

    def noted(command: list[str], **given: Any) -> Any:
        started.append(run([sys.executable, "-c", "import time; time.sleep(60)"], **given))
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", noted)
    engine = last_resort(Forms(system_of(steps(4, 100)), BAD))
    next(engine)
    assert started[0].poll() is None
    engine.close()
    assert started[0].poll() is not None


def test_its_formulas_are_read_as_clauses() -> None:
    """Bools, bounds on a number and on a difference, in all their forms; anything else is refused."""
    a, x, y = z3.Var(0, z3.BoolSort()), z3.Var(1, z3.IntSort()), z3.Var(2, z3.IntSort())
    names = ["a", "x", "y"]

    def read(formula: Any) -> list[Any]:
        return clauses_of(z3, formula, names)

    assert read(z3.Or(z3.Not(a), x <= 5)) == [(Literal("a", None, False), Literal("x", 5))]
    assert read(z3.And(a, x - y >= 3)) == [(Literal("a"),), (Literal("x", 2, False, "y"),)]
    assert read(z3.Not(z3.Or(a, 2 * x < 7))) == [(Literal("a", None, False),), (Literal("x", 3, False),)]
    assert read(-2 * x <= 7) == [(Literal("x", -4, False),)]
    assert read(x == y) == [(Literal("x", 0, True, "y"),), (Literal("x", -1, False, "y"),)]
    assert read(z3.Implies(a, x > y)) == [(Literal("a", None, False), Literal("x", 0, False, "y"))]
    for strange in (x + y <= 3, x * y <= 3, z3.If(a, x, y) <= 3, z3.Exists([z3.Int("q")], z3.Int("q") <= x)):
        with pytest.raises(UnreadableError):
            read(strange)


def test_the_process_says_why_it_cannot() -> None:
    """A Step with real numbers is none for it: an answer, not a traceback."""
    job = {"step": "state x real 0.0 0.0..1.0\noutput bad = lt x 0.5\n", "output": "bad", "free": [], "seconds": 5}
    command = [sys.executable, "-m", asked.PROCESS]
    done = subprocess.run(command, check=False, input=json.dumps(job), capture_output=True, text=True)
    assert json.loads(done.stdout)["word"] == "unknown"
    assert done.stderr == ""


def test_where_no_file_may_be_written_it_is_not_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in the processes of grading: no answer, and no error."""

    def refused(*_: object, **__: object) -> None:
        raise OSError("File too large")

    monkeypatch.setattr(asked.tempfile, "TemporaryFile", refused)
    forms = Forms(system_of(sequence(5)), BAD)
    assert finished(asked.spacer(forms.coarse, BAD, 30.0), 1000).word == "unknown"
