"""What stories the search makes: laws that all keep, and manners that some must have."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.checks.compose import MOST_EVENTS, Shape, compose
from rungproof.logic.checks.draws import BitDraws, SeededDraws
from rungproof.logic.checks.extend import extend
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.checks.stories import faults_of, frees_outputs, is_proper, tidy
from rungproof.logic.meaning.program import Program, Story

seeds = st.integers(0, 10**6)
lengths = st.integers(100, 5000)


def stories(program: Program, count: int = 400, shape: Shape | None = None) -> list[Story]:
    profile = profile_of(program)
    made = shape or Shape(1500)
    return [tidy(program, compose(profile, SeededDraws(5, number), made)) for number in range(count)]


def keeps_the_rules(program: Program, profile: Profile, story: Story, length: int) -> None:
    """What every story must keep, whoever made it."""
    assert story.duration_ms <= length and len(story.events) <= 3 * MOST_EVENTS
    assert all(0 <= event.at_ms < length and event.at_ms % profile.step == 0 for event in story.events)
    for event in story.events:
        knob = program.knobs[event.key]
        assert isinstance(event.value, {"bool": bool, "int": int, "real": float}[knob.type])
        assert knob.low <= event.value <= knob.high
    assert all(profile.scan[0] <= scan <= profile.scan[1] and scan % profile.tick == 0 for scan in story.scans)
    assert is_proper(program, story)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, length=lengths)
def test_stories_without_a_plant_keep_the_rules(kettle: Program, seed: int, length: int) -> None:
    """Events on the grid, values of the knob's type and range, scan times of the declared range."""
    profile = profile_of(kettle)
    keeps_the_rules(kettle, profile, tidy(kettle, compose(profile, SeededDraws(seed), Shape(length))), length)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, length=lengths, fault=st.booleans(), free=st.booleans())
def test_stories_with_a_plant_keep_the_rules(barrel: Program, seed: int, length: int, fault: bool, free: bool) -> None:
    """At most the one fault that was asked for; outputs only where they are free."""
    profile = profile_of(barrel)
    shape = Shape(length, profile.faults[seed % len(profile.faults)] if fault else None, free)
    story = tidy(barrel, compose(profile, SeededDraws(seed), shape))
    keeps_the_rules(barrel, profile, story, length)
    assert faults_of(barrel, story) <= {shape.fault}
    assert frees_outputs(barrel, story) == free


@settings(max_examples=60, deadline=None)
@given(seed=seeds, length=lengths)
def test_a_source_of_truths_makes_the_same_kind_of_stories(kettle: Program, seed: int, length: int) -> None:
    """What hypothesis drives keeps the same rules."""
    bits = SeededDraws(seed)
    profile = profile_of(kettle)
    story = tidy(kettle, compose(profile, BitDraws(lambda: bool(bits.below(2))), Shape(length)))
    keeps_the_rules(kettle, profile, story, length)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, length=lengths, free=st.booleans())
def test_grown_stories_keep_the_rules(barrel: Program, seed: int, length: int, free: bool) -> None:
    """A story grown from a wild one has only the faults and outputs of its own shape."""
    profile = profile_of(barrel)
    wild = compose(profile, SeededDraws(seed, 1), Shape(3000, profile.faults[0], True))
    grown = tidy(barrel, extend(profile, SeededDraws(seed, 2), wild, Shape(length, None, free)))
    keeps_the_rules(barrel, profile, grown, length)
    assert not faults_of(barrel, grown) and frees_outputs(barrel, grown) == free


def test_the_simplest_choices_make_a_quiet_story(kettle: Program) -> None:
    """With every choice at its simplest nobody touches more than one thing."""
    story = tidy(kettle, compose(profile_of(kettle), BitDraws(lambda: False), Shape(500)))
    assert len({event.key for event in story.events if event.at_ms > 0}) <= 1
    assert story.parameters == () and story.scans == ()


def test_some_stories_begin_with_things_held(kettle: Program) -> None:
    """Buttons are held before power comes, alone and together."""
    begun = [{e.key for e in s.events if e.at_ms == 0 and e.value is True} for s in stories(kettle)]
    assert {"start_pb"} in begun and {"lid_ok"} in begun and {"start_pb", "lid_ok"} in begun and set() in begun


def test_some_stories_tap_shorter_and_longer_than_a_timer(kettle: Program) -> None:
    """Taps last one scan, and the preset less a scan, just so, and more a scan."""
    held = set()
    for story in stories(kettle, 600):
        presses = [e for e in story.events if e.key == "start_pb"]
        held |= {b.at_ms - a.at_ms for a, b in pairwise(presses) if a.value}
    assert {10, 30, 60, 90} <= held


def test_some_stories_move_two_things_at_once(kettle: Program) -> None:
    """Two switches change at one instant after the start."""
    assert any(
        len({e.key for e in story.events if e.at_ms == at}) >= 2
        for story in stories(kettle)
        for at in {e.at_ms for e in story.events if e.at_ms > 0}
    )


def test_some_stories_cut_power_and_vary_the_scan(kettle: Program) -> None:
    """Cuts, slow scans, changing scans and parameters at their ends all come up."""
    made = stories(kettle)
    keys = {event.key for story in made for event in story.events}
    assert {"controller!cut", "warmth", "draught"} <= keys
    assert "controller!stopped" not in keys
    assert {(), (30,)} <= {story.scans for story in made}
    assert any(len(set(story.scans)) > 2 for story in made)
    assert {0.0, 5.0} <= {value for story in made for _, value in story.parameters}


def test_numbers_come_close_to_what_they_are_compared_with(kettle: Program) -> None:
    """The threshold of 700 is tried with its neighbours, beside the ends and values anywhere."""
    warmths = {e.value for story in stories(kettle) for e in story.events if e.key == "warmth"}
    assert {0, 699, 700, 701, 1000} <= warmths and len(warmths) > 20


def test_supplies_are_cut_in_a_plant(barrel: Program) -> None:
    """The supply is a thing to cut like the controller's power, and no fault."""
    keys = {event.key for story in stories(barrel) for event in story.events}
    assert "P24!lost" in keys and not any(barrel.knobs[key].kind == "fault" for key in keys)


def test_an_assumption_keeps_most_values_inside(make: Callable[[str], Program]) -> None:
    """Where an assumption bounds a number, few stories leave its range, but some do."""
    program = make(
        """\
controller "Valve" every 10 ms

tags
    asked      input   int 0..100
    valve      output  bool   on stop off

rung valve
    asked > 50
    => valve

assume "Nobody asks for more than ninety"
    asked <= 90

requirement R1 "Nothing below the mark"
    never valve and asked < 10
"""
    )
    beyond = [any(e.key == "asked" and e.value > 90 for e in story.events) for story in stories(program)]
    assert 0 < sum(beyond) < len(beyond) / 5
