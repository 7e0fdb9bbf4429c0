"""Many stories of one program at once: each outcome is what the reference engine gives for that story alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from agreement import program_of
from generated_plants import plant_text
from generated_programs import controller_text, story_for
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.engines.reference_branches import run_branches
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand

PRESS = Path(__file__).parents[3] / "examples" / "press_guard"


def varied(random: Random, program: Program, base: Story, other: Story) -> Story:
    """A story that is `base` up to some time, and then ends, goes on without events, or as `other` does."""
    at = random.randrange(base.duration_ms)
    kept = tuple(event for event in base.events if event.at_ms <= at)
    later = tuple(event for event in other.events if event.at_ms > at)
    ended = random.choice([at + 1, base.duration_ms, base.duration_ms // 2])
    return replace(base, events=random.choice([kept, kept + later]), duration_ms=ended)


@pytest.mark.parametrize("text", [controller_text, plant_text])
@pytest.mark.parametrize("seed", range(12))
def test_each_outcome_is_that_of_the_story_alone(text: Callable[[Random], str], seed: int) -> None:
    """Generated programs; stories that are alike at first, that are twice the same, and that begin otherwise."""
    random = Random(seed)
    program = program_of(text(random))
    if program is None:
        program = program_of(text(random))
    assert program is not None
    base, other = story_for(random, program, 400), story_for(random, program, 400)
    stories = [varied(random, program, base, other) for _ in range(10)]
    stories += [base, base, other, replace(base, lane=3)]
    alone = [ReferenceEngine().run(program, story) for story in stories]
    assert run_branches(program, stories) == alone


def test_every_fault_of_an_example_from_one_beginning() -> None:
    """What a table of faults asks for; of two requirements only, and with events that are not in order of time."""
    program = understand(PRESS).program
    assert program is not None
    faults = [key for key, knob in program.knobs.items() if knob.kind == "fault"]
    begin = (Event(100, "S1.pressed", True), Event(20, "S3.pressed", True))
    stories = [Story(300, (Event(150, fault, True), *begin)) for fault in faults[::4]]
    watch = frozenset(requirement.name for requirement in program.requirements[:2])
    assert run_branches(program, stories, watch) == [ReferenceEngine().run(program, s, watch=watch) for s in stories]


def test_a_story_that_is_none_of_the_program_is_refused() -> None:
    """Also where it stands behind others that are."""
    program = understand(PRESS).program
    assert program is not None
    with pytest.raises(ValueError, match="which nothing here is called"):
        run_branches(program, [Story(100), Story(100, (Event(10, "nobody.pressed", True),))])
