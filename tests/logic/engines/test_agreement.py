"""Engines agree with the reference engine on generated programs, to the last bit."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from random import Random

import agreement
import generated_plants as plants
import generated_programs as programs
import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.meaning.understand import understand

EXAMPLES = Path(__file__).parents[3] / "examples"

#: CI sets another start for every run; a failure prints its seed.
FIRST_SEED = int(os.environ.get("RUNGPROOF_SEED", "0"))


def _check(
    random: Random, make: Callable[[Random], str], duration_ms: int, say: Callable[[str], None] = lambda _: None
) -> list[str] | None:
    """What the engines do not agree on; None where the generated text is refused."""
    text = make(random)
    program = agreement.program_of(text)
    if program is None:
        return None
    story = programs.story_for(random, program, duration_ms)
    say(text)
    say(repr(story))
    found: list[str] = agreement.compare_generated(CompiledEngine(), text, story, program, random)
    return found


@settings(max_examples=90, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.randoms(use_true_random=False))
def test_compiled_agrees_on_generated_controllers(random: Random) -> None:
    """The compiled engine gives the reference engine's outcome for any controller and story."""
    found = _check(random, programs.controller_text, 1200, note)
    assume(found is not None)
    assert found == []


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.randoms(use_true_random=False))
def test_compiled_agrees_on_generated_plants(random: Random) -> None:
    """The compiled engine gives the reference engine's outcome for any plant around a controller."""
    found = _check(random, plants.plant_text, 800, note)
    assume(found is not None)
    assert found == []


def _many(make: Callable[[Random], str], seeds: range) -> tuple[int, list[str]]:
    """How many generated programs ran, and what was wrong with them."""
    ran, wrong = 0, []
    for seed in seeds:
        found = _check(Random(FIRST_SEED + seed), make, 4000)
        ran += found is not None
        wrong += [f"seed {FIRST_SEED + seed}: {each}" for each in found or ()]
    return ran, wrong


def test_most_generated_texts_are_programs() -> None:
    """The generator's texts are understood, but for a few: the suite does not run on nothing."""
    texts = [make(Random(seed)) for make in (programs.controller_text, plants.plant_text) for seed in range(30)]
    assert sum(agreement.program_of(text) is not None for text in texts) > 50


@pytest.mark.slow
@pytest.mark.parametrize("block", range(20))
def test_compiled_agrees_on_4000_controllers(block: int) -> None:
    """4,000 controllers over some 200 scans each, in blocks of 200, without Hypothesis' own cost."""
    ran, wrong = _many(programs.controller_text, range(200 * block, 200 * block + 200))
    assert wrong == []
    assert ran > 180


@pytest.mark.slow
@pytest.mark.parametrize("block", range(20))
def test_compiled_agrees_on_1000_plants(block: int) -> None:
    """1,000 plants over 4 s each, in blocks of 50."""
    ran, wrong = _many(plants.plant_text, range(50 * block, 50 * block + 50))
    assert wrong == []
    assert ran > 40


PROJECTS = [each for each in sorted(EXAMPLES.iterdir()) if each.name != "mistakes" and [*each.glob("*.rung")]]
PROJECTS += sorted((EXAMPLES / "mistakes").glob("*.rung"))


@pytest.mark.parametrize("path", PROJECTS, ids=[each.stem for each in PROJECTS])
def test_compiled_agrees_on_the_examples(path: Path) -> None:
    """Every example runs alike under the compiled engine, with random stories and its own scenarios."""
    program = understand(path).program
    if program is None:
        assert path.stem == "litres_against_centimetres", "an example that should run does not"
        return
    engine = CompiledEngine()
    for seed in range(2):
        story = programs.story_for(Random(seed), program, 3000)
        assert agreement.compare_run(engine, program, story, record=True) == []
    for index, scenario in enumerate(program.scenarios):
        if scenario.story.duration_ms <= 60_000:
            assert agreement.compare_run(engine, program, scenario.story, scenario=index) == []
