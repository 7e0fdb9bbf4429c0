"""Stories as text: what is printed is what was run."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.checks.compose import Shape, compose
from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.replay import replay_story
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts

seeds = st.integers(0, 10**6)


def read_back(program: Program, text: str) -> Story:
    """The story of a block pasted at the end of the program's only file."""
    source = program.sources[0]
    understanding = understand_texts({source.path: f"{source.text}\n{text}"})
    assert understanding.program is not None, understanding.diagnoses
    return understanding.program.scenarios[-1].story


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_a_story_of_tags_reads_back_the_same(kettle: Program, seed: int) -> None:
    """Taps, numbers, parameters, scan times, cuts and stops: text, parsed, gives the same story."""
    story = tidy(kettle, compose(profile_of(kettle), SeededDraws(seed), Shape(1234)))
    assert tidy(kettle, read_back(kettle, story_block(kettle, story, "As it was"))) == story


@settings(max_examples=40, deadline=None)
@given(seed=seeds, fault=st.booleans(), free=st.booleans())
def test_a_story_of_a_plant_reads_back_the_same(barrel: Program, seed: int, fault: bool, free: bool) -> None:
    """Presses, faults of parts, contacts and wires, supplies, free outputs and noise as well."""
    profile = profile_of(barrel)
    shape = Shape(2000, profile.faults[seed % len(profile.faults)] if fault else None, free)
    story = tidy(barrel, compose(profile, SeededDraws(seed), shape))
    assert tidy(barrel, read_back(barrel, story_block(barrel, story, "As it was"))) == story


def test_every_fault_has_words_that_read_back(barrel: Program) -> None:
    """Each fault that the plant has can be printed and read."""
    for key in profile_of(barrel).faults:
        story = Story(1000, (Event(100, key, True), Event(400, key, False)))
        assert read_back(barrel, story_block(barrel, story, "One fault")) == story


def test_a_story_looks_like_this(barrel: Program) -> None:
    """The whole block, as people see it."""
    story = Story(
        1250,
        (
            Event(0, "tap.opening", 37.5),
            Event(100, "S1.pressed", True),
            Event(300, "S1.pressed", False),
            Event(500, "S0.pressed", True),
            Event(600, "L1!echo_lost", True),
            Event(700, "P24!lost", True),
            Event(800, "P24!lost", False),
            Event(900, "S0.1!welded", True),
            Event(950, "controller!stopped", True),
        ),
        seed=7,
        lane=3,
    )
    assert story_block(barrel, story, 'He said "stop"', "R1").splitlines() == [
        "scenario \"R1: He said 'stop'\"",
        "    noise       seed 7 lane 3",
        "    at 0 s      set tap.opening 37.5 %",
        "    at 100 ms   press S1 for 200 ms",
        "    at 500 ms   press S0",
        "    at 600 ms   fault L1 echo_lost",
        "    at 700 ms   cut P24 for 100 ms",
        "    at 900 ms   fault S0.1 welded",
        "    at 950 ms   stop controller",
        "    ends        at 1.25 s",
    ]


def test_tags_are_set_not_pressed(kettle: Program) -> None:
    """Without a plant nobody knows which tag is a button: all are set."""
    story = Story(
        90,
        (Event(0, "lid_ok", True), Event(20, "draught", -1.5), Event(40, "warmth", 1000), Event(60, "lid_ok", False)),
        parameters=(("limit", 0.5),),
        scans=(10, 30),
    )
    assert story_block(kettle, story, "Wind").splitlines() == [
        'scenario "Wind"',
        "    parameter   limit = 0.5 m/s",
        "    scans       10 ms, 30 ms",
        "    at 0 s      set lid_ok on",
        "    at 20 ms    set draught -1.5 m/s",
        "    at 40 ms    set warmth 1000",
        "    at 60 ms    set lid_ok off",
        "    ends        at 90 ms",
    ]


def test_a_press_within_a_press_is_not_joined(barrel: Program) -> None:
    """What is pressed already and pressed again says so only once; the release ends it."""
    story = Story(900, (Event(0, "S1.pressed", True), Event(200, "S1.pressed", True), Event(400, "S1.pressed", False)))
    assert "press S1 for 400 ms" in story_block(barrel, story, "Twice")


@pytest.mark.parametrize("sentence", ["two\nlines", 'a "quoted" word', "tab\there"])
def test_no_sentence_breaks_the_block(kettle: Program, sentence: str) -> None:
    """Quotes and line ends in a title cannot end it early."""
    text = story_block(kettle, Story(50), sentence)
    assert read_back(kettle, text).duration_ms == 50


def test_a_story_file_alone_is_run_against_the_program(barrel: Program) -> None:
    """`replay` reads a file that holds nothing but the block."""
    text = story_block(barrel, Story(200, (Event(0, "S1.pressed", True),)), "A press")
    result = replay_story(barrel, text)
    assert result.stories == (Story(200, (Event(0, "S1.pressed", True),)),)
    assert result.exit_code == 0 and result.violated == {}


def test_a_story_that_cannot_be_read_is_answered_at_its_line(barrel: Program) -> None:
    """A wrong name in a story file gets a diagnosis of that file and line, and exit code 2."""
    result = replay_story(barrel, 'scenario "No such button"\n    at 0 s  press S9\n    ends at 1 s\n', "mine.rung")
    assert result.exit_code == 2 and result.scenarios == ()
    assert [(d.span.file, d.span.line) for d in result.diagnoses if d.grade == "error"] == [("mine.rung", 2)]
