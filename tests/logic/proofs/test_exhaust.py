"""Everything tried and counted: the join against the plain exploration, and the verdict that rests on it."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from rungproof.logic.checks import proving
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import exhaust as trying
from rungproof.logic.proofs import job, join
from rungproof.logic.proofs.exhaust import Tried, bounded_pauses, exhaust
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.join import Joiner
from rungproof.logic.proofs.portfolio import Answer, Forms
from rungproof.logic.proofs.prove import ProofResult, prove_program
from rungproof.logic.proofs.system import OUTAGE_TICKS, System, requirement_system
from small_controllers import small_text

TEXT = """\
controller "Two presses" every 1..2 ms

tags
    left   input   bool
    right  input   bool
    ram    output  bool  on stop off

rung ram
    left
    right
    on-delay 4 ms as both_held
    => ram

requirement R1 "Never with a hand away"
    never ram and not (left and right)

requirement R2 "The ram answers"
    whenever left and right has stood for 9 ms then ram
"""


def systems(seeds: range) -> list[tuple[str, System]]:
    found = []
    for seed in seeds:
        program = understand_texts({"small.rung": small_text(Random(seed))}).program
        for requirement in program.requirements if program is not None else ():
            found.append((f"seed {seed}, {requirement.name}", requirement_system(program, requirement)))
    return found


def wrong_counts(seeds: range) -> tuple[int, list[str]]:
    """Exact systems with pauses of a few ticks, counted twice; how many, and where the counts differ."""
    count, wrong = 0, []
    for where, system in systems(seeds):
        bits = Forms(system, system.bad).fine
        if not bits.exact or bits.start_clauses:
            continue
        step = bits.step
        if OUTAGE_TICKS in step.inputs:
            step = replace(step, inputs={**step.inputs, OUTAGE_TICKS: replace(step.inputs[OUTAGE_TICKS], high=5)})
        try:
            plain = explore(step, system.bad, free_starts=bits.free, most_layers=80)
            joined = Joiner(step, system.bad, bits.free).explore(20)
        except TooLargeError:
            continue
        count += 1
        counts = (joined.states, joined.depth, joined.layers, joined.transitions)
        if counts != (plain.states, plain.depth, plain.layers, plain.steps):
            wrong.append(f"{where}: {counts}, and one by one {plain.states}, {plain.depth}, {plain.layers}")
    return count, wrong


def test_the_join_counts_what_the_plain_exploration_counts() -> None:
    """States, layers, transitions and the fewest steps to what is bad, on generated programs."""
    count, wrong = wrong_counts(range(80))
    assert wrong == []
    assert count > 60


def test_a_value_forgotten_too_early_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: rows that still differ become one."""
    whole = join.Joiner._repacked

    def forgetful(self, rows, layout, found, move):  # type: ignore[no-untyped-def]
        rows, layout = whole(self, rows, layout, found, move)
        return rows[: max(1, len(rows) - 1)], layout

    monkeypatch.setattr(join.Joiner, "_repacked", forgetful)
    assert wrong_counts(range(20))[1]


@pytest.mark.parametrize("bits", [14, 18, 22, 26])
def test_where_words_are_short_what_is_read_is_moved_together(bits: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever has no place left makes the rest move up, or is too much: the counts are the same in any case."""
    moves = 0
    whole = join.Joiner._compact

    def counted(self, rows, layout, nodes, found):  # type: ignore[no-untyped-def]
        nonlocal moves
        moves += 1
        return whole(self, rows, layout, nodes, found)

    monkeypatch.setattr(join, "WORD", bits)
    monkeypatch.setattr(join.Joiner, "_compact", counted)
    count, wrong = wrong_counts(range(60))
    assert wrong == []
    assert count > 5
    assert moves > 0


def test_a_value_that_is_left_in_its_place_when_it_is_gone_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what nothing reads any more stays in the word, and the next value is written over it."""
    whole = join._Layout.mask

    def blind(self, nodes):  # type: ignore[no-untyped-def]
        return whole(self, nodes) if nodes is self.places else (1 << join.WORD) - 1

    monkeypatch.setattr(join._Layout, "mask", blind)
    assert wrong_counts(range(20))[1]


def test_long_pauses_are_the_same_as_longer_ones() -> None:
    """With the pauses that are tried, and with three more, the same states are reached."""
    looked = 0
    for where, system in systems(range(24)):
        bits = Forms(system, system.bad).fine
        if not bits.exact or bits.start_clauses or OUTAGE_TICKS not in bits.step.inputs:
            continue
        step = bounded_pauses(bits.step)
        more = replace(step.inputs[OUTAGE_TICKS], high=step.inputs[OUTAGE_TICKS].high + 3)
        longer = replace(step, inputs={**step.inputs, OUTAGE_TICKS: more})
        try:
            found = [Joiner(each, system.bad, bits.free).explore(2) for each in (step, longer)]
        except TooLargeError:
            continue
        looked += 1
        assert (found[0].states, found[0].depth) == (found[1].states, found[1].depth), where
    assert looked > 3


def test_pauses_cut_too_short_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: no pause is longer than a tick."""
    monkeypatch.setattr(trying._Use, "settled", lambda *_: 1)
    with pytest.raises(AssertionError):
        test_long_pauses_are_the_same_as_longer_ones()


def test_where_no_second_solver_agrees_everything_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a certificate that stands the word is exhausted, with what was counted."""
    program = understand_texts({"it.rung": TEXT}).program
    assert program is not None
    system = requirement_system(program, program.requirements[0])
    monkeypatch.setattr(job, "objection", lambda *_: "the second solver did not agree: it was told to")
    answers = job.work(job.job_of(system, 5.0))
    assert answers.tried is not None
    assert answers.tried.again
    assert answers.tried.states > 3


def test_what_is_bad_is_not_exhausted() -> None:
    """A requirement that some run breaks is never called so."""
    for where, system in systems(range(40)):
        tried = exhaust(system, system.bad, 5.0)
        if tried is not None:
            bits = Forms(system, system.bad).fine
            step = bounded_pauses(bits.step)
            assert not explore(step, system.bad, free_starts=bits.free).reachable, where


def test_the_verdict_says_what_was_tried() -> None:
    """The result of a proof carries the counts; a proof that stands is not replaced."""
    program = understand_texts({"it.rung": TEXT}).program
    assert program is not None
    found = prove_program(program, time_s=60.0, workers=1, only=["R1"])
    assert found["R1"].word == "proved"
    result = ProofResult("R1", "exhausted", tried=Tried(12, 4096, again=True))
    told = proving._proof(program, program.requirements[0], result)
    assert told.word == "exhausted"
    assert "all 12 states and 4,096 transitions were tried, and counted again one by one" in told.reason
    unknown = Answer("unknown", "", 0.0, 0)
    system = requirement_system(program, program.requirements[0])
    assert job._tried(system, unknown, "", 60.0, lambda seconds: None) is not None
    assert job._tried(system, replace(unknown, word="proved"), "", 60.0, lambda seconds: None) is None
