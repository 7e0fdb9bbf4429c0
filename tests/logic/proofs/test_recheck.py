"""The check of invariants: right ones are verified, wrong ones refused, and what is not known is not verified."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import known_answers as known
import pytest
from mistakes import MISTAKES, Mistake, system_of, text
from rungproof.logic.proofs import recheck as second
from rungproof.logic.proofs import recheck_solver
from rungproof.logic.proofs.literals import Clause, Invariant, Literal
from rungproof.logic.proofs.recheck import Failed, Unknown, Verified, recheck
from rungproof.logic.proofs.smt import Encoding
from rungproof.logic.proofs.system import System
from strongest import reachable, strongest

NOTHING = Invariant(())
SECONDS = 30.0

TRUE = {
    "interlock": known.INTERLOCKED,
    "semaphore": known.SEMAPHORE,
    "give way": known.GIVE_WAY,
    "on-delay": text(
        "a input bool; x memory bool", "hold: a, on-delay 3 ms as hold => x", "never x and hold.elapsed < 3 ms"
    ),
    "response": text(
        "a input bool; x memory bool retained", "trip: a => set x", "whenever x has stood for 2 ms then x", "1..2 ms"
    ),
    "parameter": text(
        "limit parameter int 1..4 = 2; n memory int 0..9", "grow: => n := min(n + 1, limit)", "never n > 4"
    ),
    "retained": text(
        "a input bool; x memory bool retained", "trip: a => set x", "after x never not x until x and not x"
    ),
}


def invariant_of(system: System) -> Invariant:
    """The strongest short clauses that all reachable states obey; `bad` must be out of reach."""
    rows, depth = reachable(system)
    assert depth is None, "the requirement is violated"
    return strongest(rows)


@pytest.mark.parametrize("name", TRUE)
def test_a_true_requirement_is_verified(name: str) -> None:
    """The strongest short invariant of a small program passes."""
    system = system_of(TRUE[name])
    assert isinstance(recheck(system, invariant_of(system), SECONDS), Verified)


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda each: each.name)
def test_a_seeded_mistake_is_caught(mistake: Mistake) -> None:
    """What a mistaken rewrite proves, and by its own lights rightly, is refused on the program as it is."""
    invariant = invariant_of(mistake.mistaken)
    assert isinstance(recheck(mistake.mistaken, invariant, SECONDS), Verified), "the mistake proves nothing"
    answer = recheck(mistake.meant, invariant, SECONDS)
    assert isinstance(answer, Failed | Unknown)
    assert reachable(mistake.meant)[1] is not None, "the mistake is none"


def near_first(patch: pytest.MonkeyPatch) -> None:
    """As if every system were a large one, of which what lies near is asked about alone first."""
    patch.setattr(second, "LARGE", 0)
    patch.setattr(second, "NEAR", 1)


def test_what_lies_near_decides_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truths far from the clauses are free: true invariants are still agreed to, no mistaken one is."""
    near_first(monkeypatch)
    for system in map(system_of, TRUE.values()):
        assert isinstance(recheck(system, invariant_of(system), SECONDS), Verified)
    for mistake in MISTAKES:
        assert not isinstance(recheck(mistake.meant, invariant_of(mistake.mistaken), SECONDS), Verified), mistake.name


def test_what_lies_far_taken_for_off_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: far truths are off, not free. Some mistaken invariant passes then."""
    near_first(monkeypatch)
    right = Encoding._free
    monkeypatch.setattr(Encoding, "_free", lambda self, node: "false" if node in self.open else right(self, node))
    invariants = [(each.meant, invariant_of(each.mistaken)) for each in MISTAKES]
    passes = [each for each in invariants if isinstance(recheck(*each, SECONDS), Verified)]
    assert passes


def minimised(system: System, invariant: Invariant) -> Invariant:
    """Without any clause that the rest can do without."""
    for clause in invariant.clauses:
        rest = Invariant(tuple(each for each in invariant.clauses if each is not clause))
        if isinstance(recheck(system, rest, SECONDS), Verified):
            # Once more from the beginning: fewer clauses may make others superfluous.
            return minimised(system, rest)
    return invariant


@pytest.mark.parametrize("name", ["semaphore", "give way"])
def test_a_clause_less_is_refused(name: str) -> None:
    """Every clause of an invariant that cannot be made shorter is needed, and the check sees it."""
    system = system_of(TRUE[name])
    invariant = minimised(system, invariant_of(system))
    assert invariant.clauses
    for clause in invariant.clauses:
        rest = Invariant(tuple(each for each in invariant.clauses if each is not clause))
        assert isinstance(recheck(system, rest, SECONDS), Failed)


def spoilt(clause: Clause, random: Random) -> Clause:
    """One literal turned round, or its bound moved by one towards a stronger claim."""
    place = random.randrange(len(clause))
    literal = clause[place]
    if literal.bound is None or random.random() < 0.5:
        other = -literal
    else:
        other = replace(literal, bound=literal.bound + (-1 if literal.holds else 1))
    return (*clause[:place], other, *clause[place + 1 :])


@pytest.mark.parametrize("name", ["semaphore", "give way", "on-delay"])
def test_an_invariant_that_excludes_a_reachable_state_is_refused(name: str) -> None:
    """A clause that one reachable state breaks never passes."""
    system = system_of(TRUE[name])
    rows, _ = reachable(system)
    invariant = strongest(rows)
    refused = 0
    for seed in range(30):
        random = Random(seed)
        place = random.randrange(len(invariant.clauses))
        clauses = list(invariant.clauses)
        clauses[place] = spoilt(clauses[place], random)
        wrong = Invariant(tuple(clauses))
        if all(wrong.true_in(row) for row in rows):
            continue
        assert isinstance(recheck(system, wrong, SECONDS), Failed)
        refused += 1
    assert refused > 5


def test_a_failure_names_the_clause_and_a_state() -> None:
    """What fails comes with the obligation, the clause, and values of tags that show it."""
    system = system_of(known.INTERLOCKED)
    clause: Clause = (Literal("forward", holds=False),)
    answer = recheck(system, Invariant((clause,)), SECONDS)
    assert isinstance(answer, Failed)
    assert (answer.obligation, answer.clause) == ("consecution", clause)
    assert answer.model["forward_pb"] is True
    at_start: Clause = (Literal("forward"),)
    answer = recheck(system, Invariant((at_start,)), SECONDS)
    assert isinstance(answer, Failed)
    assert (answer.obligation, answer.clause) == ("initiation", at_start)


def test_a_parameter_starts_anywhere_in_its_range() -> None:
    """Initiation covers each start value of a parameter: a clause true of the declared one only is refused."""
    system = system_of(TRUE["parameter"])
    for clause, fine in (
        ((Literal("limit", 2),), False),
        ((Literal("limit", 0, holds=False),), True),
        ((Literal("limit", 2), Literal("limit", 2, holds=False)), True),
        ((Literal("limit", 1), Literal("limit", 2, holds=False)), False),
    ):
        answer = recheck(system, Invariant((*invariant_of(system).clauses, clause)), SECONDS)
        assert isinstance(answer, Verified) is fine
        assert fine or (isinstance(answer, Failed) and answer.obligation == "initiation")


@pytest.mark.parametrize(
    ("clause", "words"),
    [
        ((Literal("nobody"),), "`nobody` is no state"),
        ((Literal("forward", 1),), "`forward` is bool"),
        ((Literal("first after power-up", float("nan")),), "`first after power-up` is bool"),
    ],
)
def test_a_clause_about_something_else_is_unknown(clause: Clause, words: str) -> None:
    """Clauses that do not fit the system are told, not read somehow."""
    answer = recheck(system_of(known.INTERLOCKED), Invariant((clause,)), SECONDS)
    assert isinstance(answer, Unknown)
    assert words in answer.why


def test_an_endless_bound_is_unknown() -> None:
    """A bound that is no number is told."""
    answer = recheck(system_of(TRUE["parameter"]), Invariant(((Literal("n", float("inf")),),)), SECONDS)
    assert isinstance(answer, Unknown)


@pytest.mark.parametrize(
    "command",
    [["sleep", "5"], ["false"], ["no such solver"], ["echo", "unsat"], ["echo", "unknown\nunknown"], ["echo", "sat"]],
)
def test_a_solver_that_fails_never_verifies(command: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A hang, a crash, half an answer, a solver that is not there: unknown."""
    monkeypatch.setattr(recheck_solver, "solver_command", lambda _: command)
    system = system_of(known.INTERLOCKED)
    answer = recheck(system, invariant_of(system), 0.3)
    assert isinstance(answer, Unknown)
    assert answer.why


def test_the_library_stands_in_for_the_executable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no solver executable is found, a Python of its own loads the library, with the same answers."""
    monkeypatch.setattr(recheck_solver.shutil, "which", lambda _: None)
    monkeypatch.setattr(recheck_solver.Path, "exists", lambda _: False)
    system = system_of(known.INTERLOCKED)
    assert isinstance(recheck(system, invariant_of(system), SECONDS), Verified)
    assert isinstance(recheck(system_of(known.NOT_INTERLOCKED), NOTHING, SECONDS), Failed)


def test_no_time_is_unknown() -> None:
    """A deadline that has passed is no proof."""
    assert isinstance(recheck(system_of(known.INTERLOCKED), NOTHING, -1.0), Unknown)
