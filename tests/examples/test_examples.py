"""The examples: each checks as its text says, and conserves what it holds."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from rungproof.grammar import format_text
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic import check
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand

EXAMPLES = Path(__file__).parents[2] / "examples"
RIGS = sorted(path.name for path in EXAMPLES.iterdir() if path.is_dir() and path.name not in ("mistakes", "exercises"))
MISTAKES = sorted(path.stem for path in (EXAMPLES / "mistakes").glob("*.rung") if not path.stem.endswith("_corrected"))


def understood(path: Path) -> Program:
    program = understand(path).program
    assert program is not None, f"{path.name} does not run"
    return program


def test_all_that_was_promised_is_there() -> None:
    """There are the rigs, and fifteen mistakes or more, each with its correction and a line on what is wrong."""
    assert RIGS == [
        "branch_chipper",
        "dosing",
        "header_tank",
        "own_part",
        "press_guard",
        "sump_pair",
        "ventilation_fan",
    ]
    assert len(MISTAKES) >= 15
    for name in MISTAKES:
        assert (EXAMPLES / "mistakes" / f"{name}_corrected.rung").exists(), name
        assert (EXAMPLES / "mistakes" / f"{name}.rung").read_text().startswith("# Wrong: ")


@pytest.mark.parametrize("name", RIGS)
def test_a_rig_violates_nothing(name: str) -> None:
    """A short check of each rig finds no violation and no finding of grade error, and its scenarios end as expected."""
    result = check(EXAMPLES / name, time_s=8)
    assert result.exit_code in (0, 3), result
    assert {verdict.word for verdict in result.verdicts} <= {"proved", "exhausted", "simulated", "vacuous", "undecided"}
    assert {scenario.word for scenario in result.scenarios} == {"as expected"}


def test_header_tank_has_twelve_requirements_or_more() -> None:
    """The main job prints a verdict for twelve requirements or more."""
    assert len(understood(EXAMPLES / "header_tank").requirements) >= 12


@pytest.mark.usefixtures("unhurried")
@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_caught_and_its_correction_accepted(name: str) -> None:
    """The wrong file ends with exit code 1 or 2, with stories that replay; the corrected one with 0."""
    wrong = check(EXAMPLES / "mistakes" / f"{name}.rung", time_s=20)
    assert wrong.exit_code in (1, 2)
    corrected = check(EXAMPLES / "mistakes" / f"{name}_corrected.rung", time_s=20)
    assert corrected.exit_code == 0
    if wrong.exit_code == 1:
        program = understood(EXAMPLES / "mistakes" / f"{name}.rung")
        for verdict in wrong.verdicts:
            if verdict.word == "violated":
                assert verdict.story is not None
                outcome = ReferenceEngine().run(program, verdict.story)
                assert outcome.judgements[verdict.requirement].violated_at == verdict.violated_at


@pytest.mark.parametrize("path", sorted(EXAMPLES.rglob("*.rung")), ids=lambda path: path.stem)
def test_examples_stand_as_the_formatter_writes_them(path: Path) -> None:
    """Every example file is laid out in the one way."""
    reporter = Reporter(CATALOGUE)
    assert format_text(path.read_text(), str(path), reporter) == path.read_text()


def wild_story(program: Program, seed: int) -> Story:
    """A minute of random settings, faults and cuts included."""
    chance = random.Random(seed)
    knobs = [knob for knob in program.knobs.values() if knob.kind not in ("parameter", "free output", "tag")]
    events = []
    for _ in range(40):
        knob = chance.choice(knobs)
        value = chance.random() < 0.5 if knob.type == "bool" else chance.uniform(knob.low, knob.high)
        events.append(Event(chance.randrange(0, 60_000, program.plant.tick), knob.key, value))
    return Story(60_000, tuple(sorted(events, key=lambda event: event.at_ms)), seed=seed)


@pytest.mark.parametrize("name", RIGS)
@pytest.mark.parametrize("seed", [1, 2])
def test_liquid_and_additive_are_conserved(name: str, seed: int) -> None:
    """Whatever fails, what a rig holds, has spilled or let pass is the same at the end, to 1e-9 of the total."""
    program = understood(EXAMPLES / name)
    assert program.plant is not None
    assembly = program.plant.assembly
    outcome = ReferenceEngine().run(program, wild_story(program, seed))
    state = {**assembly.start(), **{key: value for key, value in outcome.final.items() if key in assembly.start()}}
    assert outcome.ended_at == 60_000
    for total in (assembly.total, assembly.total_additive):
        assert total(state) == pytest.approx(total(assembly.start()), rel=1e-9, abs=1e-9)
