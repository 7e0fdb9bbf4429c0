"""How well shrinking does: this condition ends in this story."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.checks.compose import Shape, compose
from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.passes import Bounds
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.shrink import Shrinker, Violates
from rungproof.logic.checks.simpler import sort_key
from rungproof.logic.checks.stories import is_proper, tidy
from rungproof.logic.meaning.program import Event, Program, Story

Shrink = Callable[[Violates, Story], Story]


def shrinker(program: Program, violates: Violates, story: Story, **limits: int) -> Shrinker:
    """A shrinker over the program's knobs."""
    profile = profile_of(program)
    return Shrinker(
        violates=violates,
        proper=lambda candidate: is_proper(program, candidate),
        tidy=lambda candidate: tidy(program, candidate),
        bounds=Bounds(profile.step, profile.scan, profile.knobs),
        best=tidy(program, story),
        **limits,
    )


def shrunk(program: Program, violates: Violates, seed: int = 1) -> Story:
    """What the first violating one of many wild stories shrinks to."""
    profile = profile_of(program)
    for number in range(2000):
        story = tidy(program, compose(profile, SeededDraws(seed, number), Shape(1500)))
        at = violates(story)
        if at is not None:
            found = shrinker(program, violates, replace(story, duration_ms=at))
            result = found.shrink()
            assert found.complete
            return result
    raise AssertionError("no story violates: the condition is out of reach")


def first(story: Story, key: str, value: object) -> int | None:
    return next((e.at_ms for e in story.events if e.key == key and e.value == value), None)


def after(story: Story, at: int | None, key: str, value: object, wait: int = 0) -> int | None:
    if at is None:
        return None
    return next((e.at_ms for e in story.events if e.key == key and e.value == value and e.at_ms >= at + wait), None)


def test_a_single_event_is_all_that_is_left(kettle: Program) -> None:
    """Whatever sets the lid: one event, at the start."""
    story = shrunk(kettle, lambda s: first(s, "lid_ok", True))
    assert story == Story(0, (Event(0, "lid_ok", True),))


def test_a_press_and_a_release_keep_their_distance(kettle: Program) -> None:
    """A release at least 200 ms after the press shrinks to just that, at a round time."""
    story = shrunk(kettle, lambda s: after(s, first(s, "start_pb", True), "start_pb", False, 200))
    assert story.events == (Event(0, "start_pb", True), Event(200, "start_pb", False))
    assert story.duration_ms == 200


def test_order_is_kept_and_waits_go(kettle: Program) -> None:
    """First the button, later the lid: two events a step apart."""
    story = shrunk(kettle, lambda s: after(s, first(s, "start_pb", True), "lid_ok", True, 1))
    assert [e.key for e in story.events] == ["start_pb", "lid_ok"]
    assert story.events[0].at_ms == 0 and story.events[1].at_ms == 10


def test_numbers_get_round(kettle: Program) -> None:
    """Any warmth beyond 700 and below the end of the range ends at a number of one digit and zeros."""
    story = shrunk(
        kettle,
        lambda s: next((e.at_ms for e in s.events if e.key == "warmth" and 700 < e.value < 1000), None),
    )
    assert len(story.events) == 1
    assert story.events[0].value in (800, 900)


def test_what_plays_no_part_goes(kettle: Program) -> None:
    """Parameters, scan times and noise that do not matter are not in the story."""
    story = shrunk(kettle, lambda s: first(s, "start_pb", True))
    assert (story.parameters, story.scans, story.seed, story.lane) == ((), (), 0, 0)


def test_a_parameter_that_matters_stays_and_gets_simple(kettle: Program) -> None:
    """A limit above 4.2 m/s ends at the end of its range, alone."""
    story = shrunk(kettle, lambda s: s.duration_ms if dict(s.parameters).get("limit", 2.0) > 4.2 else None)
    assert story.parameters == (("limit", 5.0),)
    assert story.events == ()


def test_a_slow_scan_that_matters_is_said_once(kettle: Program) -> None:
    """Needing one slow scan among the first three ends in a short list."""
    story = shrunk(kettle, lambda s: s.duration_ms if max(s.scans[:3], default=0) == 30 else None)
    assert story.scans == (30,)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), count=st.integers(1, 4))
def test_leaving_out_any_event_loses_the_violation(kettle: Program, seed: int, count: int) -> None:
    """At the fixpoint every single event is needed."""

    def violates(story: Story) -> int | None:
        edges = [e.at_ms for e in story.events if e.key == "start_pb" and e.value]
        lids = [e.at_ms for e in story.events if e.key == "lid_ok"]
        return max(edges[count - 1], lids[0]) if len(edges) >= count and lids else None

    story = shrunk(kettle, violates, seed)
    for place in range(len(story.events)):
        shorter = replace(story, events=story.events[:place] + story.events[place + 1 :])
        assert violates(tidy(kettle, shorter)) is None
    assert len(story.events) == 2 * count


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_shrinking_only_ever_gets_simpler(barrel: Program, seed: int) -> None:
    """The result violates, is proper, and is no less simple than where it began."""
    profile = profile_of(barrel)
    story = tidy(barrel, compose(profile, SeededDraws(seed), Shape(2000)))

    def violates(candidate: Story) -> int | None:
        return candidate.events[-1].at_ms if len(candidate.events) >= 2 else None

    at = violates(story)
    if at is None:
        return
    begun = replace(story, duration_ms=at)
    result = shrinker(barrel, violates, begun).shrink()
    assert violates(result) is not None and is_proper(barrel, result)
    assert sort_key(result) <= sort_key(tidy(barrel, begun))
    assert result.duration_ms == violates(result)


def test_a_cut_never_moves_before_the_first_scan(kettle: Program) -> None:
    """A power cut that is needed stays behind the first scan."""
    story = shrunk(kettle, lambda s: first(s, "controller!cut", True))
    assert [e.key for e in story.events] == ["controller!cut"]
    assert story.events[0].at_ms > 10


def test_the_effort_is_bounded(kettle: Program) -> None:
    """With no runs left the story stays as it is, and the shrinker says that it is not done."""
    story = Story(500, (Event(100, "start_pb", True), Event(200, "lid_ok", True)))
    lazy = shrinker(kettle, lambda s: s.duration_ms, story, limit_runs=0)
    assert lazy.shrink() == story and not lazy.complete


def test_nothing_is_run_twice(kettle: Program) -> None:
    """No story is tried again."""
    seen: list[Story] = []

    def violates(story: Story) -> int | None:
        seen.append(story)
        return first(story, "lid_ok", True)

    shrinker(kettle, violates, Story(900, (Event(0, "start_pb", True), Event(300, "lid_ok", True)))).shrink()
    assert len(seen) == len(set(seen)) > 3


def test_fewer_things_come_before_shorter_times() -> None:
    """The order of simplicity: things moved, events, circumstances, then times."""
    two_keys = Story(10, (Event(0, "a", True), Event(0, "b", True)))
    one_key_long = Story(9000, (Event(0, "a", True), Event(5000, "a", False)))
    more_events = Story(10, tuple(Event(at, "a", at % 2 == 0) for at in range(3)))
    with_scans = replace(one_key_long, scans=(20,))
    assert sort_key(one_key_long) < sort_key(with_scans) < sort_key(more_events) < sort_key(two_keys)


def test_round_times_win_over_a_little_shorter_ones() -> None:
    """20 s is simpler than 19.7 s, and 10 s is simpler than both."""
    times = [Story(at, (Event(at, "a", True),)) for at in (10_000, 20_000, 19_700)]
    assert sorted(times, key=sort_key) == times
