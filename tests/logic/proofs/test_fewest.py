"""Stories against a machine with its program: the shortest there are, shown so by two ways of counting."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand
from rungproof.logic.proofs import prove
from rungproof.logic.proofs.join import Joiner
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.prove import ProofResult, prove_program
from rungproof.logic.proofs.system_loop import loop_system

MISTAKES = Path(__file__).parents[3] / "examples" / "mistakes"
OF_LOGIC = ["hardwired_reset_starts_the_motor", "make_drawn_where_break_is_wired"]
OF_AMOUNTS = ["lost_signal_read_as_empty", "scaling_for_the_wrong_range"]


@cache
def program_of(name: str) -> Program:
    program = understand(MISTAKES / f"{name}.rung").program
    assert program is not None
    return program


@cache
def found(name: str) -> ProofResult:
    return prove_program(program_of(name), time_s=60, workers=1, further=True)["R1"]


@pytest.mark.parametrize("name", OF_LOGIC)
def test_a_mistake_with_a_plant_is_refuted_by_the_shortest_story(name: str) -> None:
    """The reference engine replays it, and no run of the machine with its program is bad sooner."""
    result = found(name)
    assert (result.word, result.way, result.shortest) == ("violated", "loop", True)
    assert result.story is not None
    assert violated_at(reference_engine(), program_of(name), result.story, "R1") == result.violated_at


@pytest.mark.parametrize("name", OF_LOGIC)
def test_trying_everything_finds_none_shorter(name: str) -> None:
    """The plain exploration of the same machine, every input at every tick, meets the mistake at the same tick."""
    program = program_of(name)
    system = loop_system(program, program.requirements[0])
    bits = Forms(system, system.bad).fine
    assert bits.exact
    explored = Joiner(bits.step, system.bad, bits.free).explore(60.0)
    assert explored.depth is not None
    assert explored.depth * system.tick == found(name).violated_at


@pytest.mark.parametrize("name", [f"{each}_corrected" for each in OF_LOGIC])
def test_the_corrected_one_is_not_refuted(name: str) -> None:
    """It is proved, as it stands or with the program in the loop."""
    assert {each.word for each in prove_program(program_of(name), time_s=60, workers=1, further=True).values()} <= {
        "proved",
        "exhausted",
    }


@pytest.mark.parametrize("name", OF_AMOUNTS)
def test_what_amounts_decide_is_left_to_the_search(name: str) -> None:
    """A run with levels as it likes is no story: the plant, with its own levels, does not follow it."""
    result = found(name)
    assert result.word == "breakable"
    assert result.story is None


def test_the_verdict_says_that_none_is_shorter() -> None:
    """Only where it was shown: a story that nobody counted says nothing of others."""
    program = program_of(OF_LOGIC[1])
    verdict = check_program(program, runs=20, prove_s=20, unhurried=True).verdict("R1")
    assert "no shorter story violates it" in verdict.reason
    alone = check_program(program, runs=60, prove_s=0, unhurried=True).verdict("R1")
    assert "no shorter" not in alone.reason


def test_a_story_that_the_reference_engine_does_not_see_is_no_violation(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: the run is told wrongly. It is not believed."""
    monkeypatch.setattr(prove, "replayed", lambda *anything, **more: None)
    result = prove_program(program_of(OF_LOGIC[1]), time_s=60, workers=1, further=True)["R1"]
    assert (result.word, result.story) == ("breakable", None)
