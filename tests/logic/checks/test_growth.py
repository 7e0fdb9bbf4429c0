"""Runs that reached something new are kept, and later ones grow from them: long sequences are found so."""

from __future__ import annotations

import time
from collections.abc import Mapping

import pytest
from rungproof.logic.checks.batch import BatchTask, Job, run_jobs
from rungproof.logic.checks.campaign import long_story
from rungproof.logic.checks.compose import Shape
from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.checks.extend import extend, fitting
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.stories import faults_of
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.understand import understand_texts

CODE = "142314"
ROUNDS, RUNS = 24, 128


def lock(code: str) -> Program:
    """A lock of four keys that opens on the presses of `code` in order; a wrong one begins anew."""
    lines = ['controller "Code lock" every 10 ms', "", "tags", *(f"    k{key} input bool" for key in "1234")]
    lines += [f"    s{i} memory bool" for i in range(1, len(code) + 1)]
    for i, key in reversed(list(enumerate(code))):
        lines += ["", f"rung step{i}", f"    rising k{key}", *([f"    s{i}"] if i else []), f"    => set s{i + 1}"]
        if i:
            wrong = " or ".join(f"rising k{other}" for other in "1234" if other != key)
            lines += ["", f"rung wrong{i}", f"    s{i}", f"    not s{i + 1}", f"    {wrong}"]
            lines += [f"    => reset s{j}" for j in range(1, len(code) + 1)]
    lines += ["", 'requirement R1 "The lock never opens"', f"    never s{len(code)}", ""]
    program = understand_texts({"lock.rung": "\n".join(lines)}).program
    assert program is not None
    return program


def searched(program: Program, seed: int, grown: int) -> Story | None:
    """A story that opens the lock, from so many runs of which `grown` in eight grow from what was reached."""
    profile, corpus = profile_of(program), dict[str, Story]()
    for round_ in range(ROUNDS):
        jobs = tuple(Job(round_ * RUNS + i, Shape(300), grown) for i in range(RUNS))
        kept: Mapping[str, Story] = corpus if grown else {}
        task = BatchTask(
            b"",
            None,
            frozenset({"R1"}),
            jobs,
            seed,
            (),
            tuple(kept.values())[-200:],
            frozenset(kept),
            time.time() + 600,
        )
        found = run_jobs(program, profile, fast_engine(), task)
        for _, story, _ in found.violations.values():
            return story
        corpus.update((state, story) for state, story in found.reached.items() if state not in corpus)
    return None


def test_a_sequence_of_six_presses_is_found_by_growth_alone() -> None:
    """With the same runs, three of four seeds open the lock by growing, and none without."""
    program = lock(CODE)
    grown = [searched(program, seed, 6) for seed in range(4)]
    assert sum(story is not None for story in grown) >= 3
    assert [searched(program, seed, 0) for seed in range(4)] == [None] * 4
    story = next(story for story in grown if story is not None)
    assert violated_at(reference_engine(), program, story, "R1") is not None


@pytest.mark.parametrize("seed", [0, 7])
def test_growth_hangs_on_the_seed_alone(seed: int) -> None:
    """Twice the same search finds the same story."""
    assert searched(lock(CODE[:4]), seed, 6) == searched(lock(CODE[:4]), seed, 6)


VALVE = """\
plant "Filling" every 10 ms
    reservoir mains  holds 1000 L, starts at 500 L
    tank mix         upright cylinder, diameter 50 cm, height 90 cm, starts at 1 L
    valve V1         from mains into mix, flow 20 L/min, opens in 100 ms, closes in 100 ms
    push_button S1   make contact
    supply P24       24 V

circuit "Valve" from P24
    rung water
        S1
        => V1.coil

requirement R1 "It closes"
    whenever not S1.operated has stood for 500 ms then not V1.open

exclude "A hand valve stands before it"
    fault V1 stuck

scenario "It sticks open"
    at 100 ms   press S1 for 1 s
    at 900 ms   fault V1 stuck
    ends        at 2 s
"""


@pytest.mark.parametrize("fault", [None, "V1!coil_open"])
def test_a_story_grown_from_a_scenario_has_its_own_fault_at_most(fault: str | None) -> None:
    """A fault in the scenario is left behind, one that the file leaves out of account, too: it is still a fault."""
    program = understand_texts({"filling.rung": VALVE}).program
    assert program is not None
    profile, seed = profile_of(program), program.scenarios[0].story
    shape = Shape(4000, fault=fault)
    assert {each.key for each in seed.events} == {"S1.pressed", "V1!stuck"}
    assert {each.key for each in fitting(profile, seed, shape)} == {"S1.pressed"}
    for number in range(40):
        story = extend(profile, SeededDraws(0, number), seed, shape)
        assert faults_of(program, story) <= {fault}
        assert faults_of(program, long_story(profile, [seed], 0, number, shape)) <= {fault}
