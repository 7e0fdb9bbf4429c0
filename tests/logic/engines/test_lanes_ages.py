"""Ages told by deadline are those that are counted: the agreement suite sees them, and mistakes in them."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import agreement
import generated_plants as plants
import generated_programs as programs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.lanes_ages import LaneAges
from rungproof.logic.meaning.program import Program, Story

SEEDS = range(8)
_COME, _REST = LaneAges.come, LaneAges.rest


def _a_tick_late(ages: LaneAges, t: int) -> list[int]:
    return _COME(ages, t - ages.tick)


def _never_back(ages: LaneAges, word: int, t: int) -> None:
    past = ages.past
    _REST(ages, word, t)
    ages.past = past


def _begins_a_tick_late(ages: LaneAges, word: int, t: int) -> None:
    _REST(ages, word, t + ages.tick)


@pytest.fixture(scope="module")
def defined() -> list[tuple[Program, list[Story], list[Any]]]:
    """Programs with a plant, stories, and what they come to one by one."""
    found = []
    for seed in SEEDS:
        random = Random(seed)
        program = agreement.program_of(plants.plant_text(random))
        if program is not None:
            stories = [programs.story_for(random, program, random.choice([200, 500, 900])) for _ in range(8)]
            alone = CompiledEngine()
            found.append((program, stories, [alone.run(program, story) for story in stories]))
    return found


def _agree(defined: list[tuple[Program, list[Story], list[Any]]]) -> bool:
    return all(
        not list(agreement.differences(one, other))
        for program, stories, outcomes in defined
        for one, other in zip(outcomes, LanesEngine().run_many(program, stories), strict=True)
    )


def test_generated_requirements_have_ages(defined: list[tuple[Program, list[Story], list[Any]]]) -> None:
    """Else what follows would show nothing."""
    kept = [LanesEngine().source(program, stories).count("= lanes.age(") for program, stories, _ in defined]
    assert sum(kept) >= 10
    assert _agree(defined)


@pytest.mark.parametrize(
    ("method", "mistake"),
    [
        ("come", _a_tick_late),
        ("rest", _never_back),
        ("rest", _begins_a_tick_late),
    ],
)
def test_a_planted_mistake_is_caught(
    defined: list[tuple[Program, list[Story], list[Any]]],
    monkeypatch: pytest.MonkeyPatch,
    method: str,
    mistake: Callable[..., Any],
) -> None:
    """A deadline missed by a tick, an age that never goes back to 0 or begins late."""
    monkeypatch.setattr(LaneAges, method, mistake)
    assert not _agree(defined)


@given(st.lists(st.integers(0, 255), max_size=40), st.sets(st.integers(2, 9)), st.integers(1, 12))
def test_deadlines_say_what_counting_says(rests: list[int], firsts: set[int], limit: int) -> None:
    """Lane by lane and tick by tick, however often an age goes back to 0 before it has come anywhere."""
    firsts = {first for first in firsts if first <= limit}
    ages, counted = LaneAges([10 * first for first in firsts], 10 * limit, 10, 1), [0] * 8
    for tick, word in enumerate(rests, 1):
        grown = [min(10 * limit, age + 10) for age in counted]
        past = [sum(1 << lane for lane in range(8) if grown[lane] >= 10 * first) for first in firsts]
        assert ages.come(10 * tick) == past
        ages.rest(word, 10 * tick)
        counted = [0 if word >> lane & 1 else grown[lane] for lane in range(8)]
        assert ages.ages(10 * tick, 1).tolist() == counted
    keep = np.array([7, 0, 3, 3, 3, 3, 3, 3])
    ages.squeeze(1, keep)
    assert ages.ages(10 * len(rests), 1).tolist() == [counted[lane] for lane in keep]
