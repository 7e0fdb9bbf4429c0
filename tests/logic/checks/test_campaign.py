"""Long runs: any of them by its number, covering what there is."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.checks.campaign import fault_of, long_story, radical_inverse
from rungproof.logic.checks.compose import MOST_EVENTS, Shape
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.stories import faults_of, is_proper, tidy
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story

#: Somebody fills the barrel and lets it be.
FILLED = Story(5000, (Event(500, "S1.pressed", True), Event(700, "S1.pressed", False)))


def test_the_inverse_is_the_published_one() -> None:
    """The first terms to base 2 and 3 (Halton 1960): 1/2, 1/4, 3/4, 1/8 and 1/3, 2/3, 1/9, 4/9."""
    assert [radical_inverse(n, 2) for n in (1, 2, 3, 4)] == [1 / 2, 1 / 4, 3 / 4, 1 / 8]
    assert [radical_inverse(n, 3) for n in (1, 2, 3, 4)] == [1 / 3, 2 / 3, 1 / 9, 4 / 9]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 5000), st.booleans(), st.booleans())
def test_any_number_gives_a_story_that_runs(barrel: Program, seed: int, number: int, free: bool, faulty: bool) -> None:
    """By seed and number alone, the same each time; proper, of the length asked, with its fault and no other."""
    profile = profile_of(barrel)
    shape = Shape(20_000, fault_of(profile, seed, number) if faulty else None, free)
    story = tidy(barrel, long_story(profile, [FILLED], seed, number, shape))
    assert story == tidy(barrel, long_story(profile, [FILLED], seed, number, shape))
    assert story.duration_ms == 20_000 and len(story.events) <= 3 * MOST_EVENTS
    assert is_proper(barrel, story)
    assert faults_of(barrel, story) <= {shape.fault}
    assert ReferenceEngine().run(barrel, Story(100, story.events, story.parameters, story.scans)).ended_at <= 100


def test_all_faults_take_turns(barrel: Program) -> None:
    """In as many runs as there are faults each comes once, in another order with another seed."""
    faults = profile_of(barrel).faults
    orders = [[fault_of(profile_of(barrel), seed, n) for n in range(len(faults))] for seed in (0, 1)]
    assert sorted(map(str, orders[0])) == sorted(map(str, orders[1])) == sorted(faults)
    assert orders[0] != orders[1]


def test_parameters_and_scan_times_are_swept(kettle: Program) -> None:
    """Every part of a parameter's range is visited, and the shortest and the longest scan time."""
    profile = profile_of(kettle)
    stories = [long_story(profile, [], 0, number, Shape(2000)) for number in range(1, 17)]
    limits = sorted(float(dict(story.parameters)["limit"]) for story in stories)
    assert all(any(low <= limit < low + 0.625 for limit in limits) for low in (0.0, 0.625, 1.25, 2.5, 4.375))
    assert {(10,), (30,)} <= {story.scans for story in stories}


def test_an_operation_leaves_the_buttons_alone(barrel: Program) -> None:
    """After the scenario only the world moves; with free outputs every terminal stands at its highest."""
    story = long_story(profile_of(barrel), [FILLED], 0, 7, Shape(60_000, None, True))
    later = {event.key for event in story.events if event.at_ms > FILLED.duration_ms}
    assert later == {"tap.opening"}
    assert Event(0, "filling", True) in story.events


def test_power_goes_for_good_and_the_world_goes_on(barrel: Program) -> None:
    """One run in five, whether the file has scenarios or not: all power, never before a scan has ended, and both ends
    of what the world may do afterwards."""
    profile = profile_of(barrel)
    for scenarios in ([FILLED], []):
        story = long_story(profile, scenarios, 0, 1, Shape(60_000))
        gone = {event.key: event.at_ms for event in story.events if event.key in profile.powers}
        assert gone.keys() == set(profile.powers)
        assert 2 * profile.scan[1] <= min(gone.values()) == max(gone.values()) <= 60_000 // 8
        taps = [event for event in story.events if event.key == "tap.opening"]
        assert [event.value for event in taps] == [profile.assumed["tap.opening"][1], profile.assumed["tap.opening"][0]]
