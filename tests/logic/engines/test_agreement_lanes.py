"""Every lane of a run of many gives what its story gives alone, to the last bit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import agreement
import generated_plants as plants
import generated_programs as programs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.engines import lanes_arithmetic
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event
from rungproof.logic.meaning.understand import understand
from rungproof.logic.steps.operators import OPERATORS

EXAMPLES = Path(__file__).parents[3] / "examples"


def _check(seed: int, make: Callable[[Random], str], lanes: int) -> list[str]:
    """What lanes say otherwise than the stories run one by one; stories of several lengths and seeds."""
    random = Random(seed)
    program = agreement.program_of(make(random))
    if program is None:
        return []
    stories = [programs.story_for(random, program, random.choice([200, 500, 900])) for _ in range(lanes)]
    wrong = []
    for how in ({}, {"stop_at_violation": True}):
        alone = CompiledEngine()
        for story, found in zip(stories, LanesEngine().run_many(program, stories, **how), strict=True):
            wrong += list(agreement.differences(alone.run(program, story, **how), found))
    first = LanesEngine().run_many(program, stories[:1])[0]
    return wrong + list(agreement.differences(ReferenceEngine().run(program, stories[0]), first))


@pytest.mark.parametrize("seed", range(25))
def test_lanes_agree_on_generated_controllers(seed: int) -> None:
    """Without a plant each lane has a clock of its own."""
    assert _check(seed, programs.controller_text, 8) == []


@pytest.mark.parametrize("seed", range(8))
def test_lanes_agree_on_generated_plants(seed: int) -> None:
    """With a plant the lanes share the clock, and their scans do not."""
    assert _check(seed, plants.plant_text, 8) == []


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_lanes_agree_on_many(block: int) -> None:
    """500 controllers and 100 plants more."""
    wrong = [
        w for seed in range(1000 + 50 * block, 1050 + 50 * block) for w in _check(seed, programs.controller_text, 6)
    ]
    wrong += [w for seed in range(1000 + 10 * block, 1010 + 10 * block) for w in _check(seed, plants.plant_text, 6)]
    assert wrong == []


@pytest.mark.parametrize("name", ["header_tank", "press_guard"])
def test_lanes_agree_on_the_examples(name: str) -> None:
    """A lane with noise replays alone: draws are keyed by seed and lane, not by place."""
    program = understand(EXAMPLES / name).program
    assert program is not None
    stories = [programs.story_for(Random(seed), program, 3000) for seed in range(12)]
    alone = CompiledEngine()
    for story, found in zip(stories, LanesEngine().run_many(program, stories), strict=True):
        assert list(agreement.differences(alone.run(program, story), found)) == []


@pytest.mark.parametrize("name", ["header_tank", "press_guard"])
def test_outputs_taken_from_the_first_instant_on_leave_the_program_out(name: str) -> None:
    """What nobody drives then is not worked out, and nothing that is judged or shown differs for it."""
    program = understand(EXAMPLES / name).program
    assert program is not None
    taken = tuple(Event(0, key, knob.start) for key, knob in program.knobs.items() if knob.kind == "free output")
    stories = [programs.story_for(Random(seed), program, 3000) for seed in range(8)]
    stories = [replace(story, events=(*taken, *story.events)) for story in stories]
    watch = frozenset(each.name for each in program.requirements if each.outputs_free or each.instants == "tick")
    alone, none = CompiledEngine(), frozenset[str]()
    for story, found in zip(stories, LanesEngine().run_many(program, stories, watch=watch, shown=none), strict=True):
        assert found == replace(alone.run(program, story, watch=watch), final={})


REALS = st.floats(-1e300, 1e300, allow_nan=False) | st.sampled_from([0.0, -0.0, 1e300, -1e300, 5e-324])
INTS = st.integers(-(2**53), 2**53)


def _bits(value: float | int) -> str | int:
    return value.hex() if isinstance(value, float) else value


@given(REALS, REALS)
def test_array_division_is_the_operator(a: float, b: float) -> None:
    """Guarded division of arrays gives the scalar operator's bits, zeros and overflow included."""
    out = np.empty(1)
    lanes_arithmetic.divide(np.array([a]), np.array([b]), out)
    assert _bits(float(out[0])) == _bits(OPERATORS["divide"].plain(a, b))


@given(INTS, INTS | st.just(0))
def test_array_int_division_is_the_operator(a: int, b: int) -> None:
    """Division of ints goes toward zero in arrays too."""
    out = np.empty(1, np.int64)
    lanes_arithmetic.div(np.array([a]), np.array([b]), out)
    assert int(out[0]) == OPERATORS["div"].plain(a, b)


@given(REALS, st.floats(-1e9, 1e9))
def test_array_roots_and_rounding_are_the_operators(a: float, b: float) -> None:
    """Roots of negative numbers are 0, halves round to even."""
    real, whole = np.empty(1), np.empty(1, np.int64)
    lanes_arithmetic.root(np.array([a]), real)
    lanes_arithmetic.nearest(np.array([b]), whole)
    assert _bits(float(real[0])) == _bits(OPERATORS["sqrt"].plain(a))
    assert int(whole[0]) == OPERATORS["round"].plain(b)
