"""What lies near a requirement: enough to prove what does not rest on the rest, and never too much."""

from __future__ import annotations

from random import Random

import pytest
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import near as nearby
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.reach import reach
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import OUTAGE_TICKS, requirement_system
from rungproof.logic.steps.node import OFF, substitute
from small_controllers import small_text


def wrong_proofs(seeds: range) -> tuple[int, list[str]]:
    """Proofs from what lies three nodes away: how many, and those that are none."""
    count, wrong = 0, []
    for seed in seeds:
        program = understand_texts({"small.rung": small_text(Random(seed))}).program
        for requirement in program.requirements if program is not None else ():
            assert program is not None
            system = requirement_system(program, requirement)
            forms = Forms(system, system.bad)
            engine, result = reach(forms.near(6).coarse, system.bad), None
            while result is None:
                try:
                    next(engine)
                except StopIteration as end:
                    result = end.value
            if result.word != "proved":
                continue
            count += 1
            cone = forms.system
            if not isinstance(recheck(cone, Invariant(result.clauses), 20.0), Verified):
                wrong.append(f"seed {seed}, {requirement.name}: the second solver does not agree")
            try:
                pauses = {OUTAGE_TICKS: range(1, 7)}
                found = explore(cone.step, system.bad, choices=pauses, free_starts=cone.free_starts, most_layers=50)
            except TooLargeError:
                continue
            if found.reachable:
                wrong.append(f"seed {seed}, {requirement.name}: proved, and reached")
    return count, wrong


def test_what_is_cut_off_is_free() -> None:
    """On generated programs, what is proved of the near part holds of the whole; the second solver agrees."""
    count, wrong = wrong_proofs(range(50))
    assert wrong == []
    assert count > 5


def test_what_is_cut_off_and_taken_for_off_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: far nodes are off, not free."""
    monkeypatch.setattr(nearby, "substitute", lambda roots, given: substitute(roots, dict.fromkeys(given, OFF)))
    assert wrong_proofs(range(50))[1]
