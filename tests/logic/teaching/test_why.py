"""Why a value: the chain's links agree with the run, and each cause makes a difference when it is changed."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from random import Random

import generated_programs
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.teaching.causes import causes_of, changed
from rungproof.logic.teaching.why import why

FAN = """\
controller "Fan" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    left      input   bool
    right     input   bool
    run       output  bool  on stop off
    late      output  bool  on stop off
    trip      memory  bool  retained
    reset_pb  input   bool

rung run
    rising start_pb or run
    stop_ok
    left or right
    not trip
    => run

rung late
    run
    on-delay 500 ms as waited
    => late

rung trip
    not left
    not right
    => set trip

rung reset
    rising reset_pb
    => reset trip
"""


def program() -> Program:
    found = understand_texts({"fan.rung": FAN}).program
    assert found is not None
    return found


def story(*events: tuple[int, str, bool], until: int = 3000) -> Story:
    return Story(until, tuple(Event(at, key, value) for at, key, value in sorted(events)))


STARTED = (
    (0, "stop_ok", True),
    (0, "left", True),
    (0, "right", True),
    (1000, "start_pb", True),
    (1200, "start_pb", False),
)


def causes(name: str, at: int, *events: tuple[int, str, bool]) -> list[set[tuple[str, bool, int, int]]]:
    found = causes_of(program(), story(*events), name, at)
    return [{(c.key, bool(c.was), c.from_ms, c.until_ms) for c in cause.changes} for cause in found.causes]


def test_what_started_and_what_kept_it_running_are_the_causes() -> None:
    """The press, that it was a fresh one, and the stop button's contact since then; not the contact before."""
    found = causes("run", 2000, *STARTED)
    assert {("start_pb", True, 1000, 1200)} in found
    assert {("start_pb", False, 0, 1000)} in found
    assert {("stop_ok", True, 1000, 2000)} in found


def test_two_branches_that_both_conduct_are_one_cause_together() -> None:
    """Either alone would have kept it on, so neither alone is named."""
    found = causes("run", 2000, *STARTED)
    assert {("left", True, 0, 2000), ("right", True, 0, 2000)} in found or {
        (key, value) for cause in found if len(cause) == 2 for key, value, _, _ in cause
    } == {("left", True), ("right", True)}
    assert not any(len(cause) == 1 and next(iter(cause))[0] in ("left", "right") for cause in found)


def test_what_nobody_did_is_a_cause_too() -> None:
    """A fan that stands still because nobody pressed says so."""
    ((cause,),) = [causes("run", 500, (0, "stop_ok", True), (0, "left", True), (0, "right", True))]
    assert {key for key, *_ in cause} == {"start_pb"}


def test_the_chain_goes_back_through_stages_and_rungs_to_the_press() -> None:
    """late <- waited <- run <- start_pb, each with its instant."""
    found = why(program(), story(*STARTED), "late", 2000)
    links = {link.name: link for link in found.links}
    assert [links[name].since_ms for name in ("late", "waited", "run", "start_pb")] == [1510, 1510, 1010, 1000]
    assert links["late"].rung == "late"
    assert links["run"].lines[0].words == "start_pb came on in this scan"
    assert {line.words for line in links["run"].held} == {"stop_ok is on", "left is on", "trip is off"}


def test_a_retained_trip_leads_back_to_what_set_it() -> None:
    """The trip's own rung and the contacts that opened, not the reset that never came."""
    found = why(program(), story(*STARTED, (2000, "left", False), (2000, "right", False)), "trip", 2500)
    assert found.links[0].words == "it was set"
    assert found.links[0].since_ms == 2010
    assert {line.words for line in found.links[0].lines} == {"left is off", "right is off"}


def test_a_dead_controller_says_so() -> None:
    """Without power the terminal is off whatever the rungs would say."""
    found = why(program(), story(*STARTED, (1500, "controller!cut", True)), "run", 2000)
    assert "no power" in found.links[0].words
    assert any(change.key == "controller!cut" for cause in found.causes.causes for change in cause.changes)


def test_a_name_that_is_none_is_refused() -> None:
    """Parts and requirements have no rungs that give them a value."""
    with pytest.raises(KeyError):
        why(program(), story(*STARTED), "nobody", 2000)


def _asked(random: Random) -> tuple[Program, Story, str, int]:
    found = understand_texts({"a.rung": generated_programs.controller_text(random)}).program
    assume(found is not None)  # a generated number can leave the bounds that are allowed
    assert found is not None and found.controller is not None
    found = replace(found, assumptions=())
    told = generated_programs.story_for(random, found, 400)
    written = [tag.name for tag in found.controller.tags.values() if tag.role in ("memory", "output")]
    return found, told, random.choice([*written, *found.controller.stages]), random.randint(60, 400)


@given(st.integers(0, 10**9))
@settings(max_examples=25, deadline=None)
def test_every_named_cause_changes_the_value_and_no_part_of_it_does(seed: int) -> None:
    """On generated programs: all changes of a cause give its `becomes`, fewer of them leave the value, in
    the reference engine."""
    found, told, name, at = _asked(Random(seed))
    causes = causes_of(found, told, name, at)

    def value(*changes):  # type: ignore[no-untyped-def]
        asked = changed(found, told, changes, at)
        return ReferenceEngine().run(found, Story(at, *_rest(asked)), watch=frozenset()).final[name]

    assert value() == causes.value
    for cause in causes.causes[:6]:
        assert value(*cause.changes) == cause.becomes != causes.value
        for fewer in combinations(cause.changes, len(cause.changes) - 1):
            assert value(*fewer) == causes.value


def _rest(story: Story):  # type: ignore[no-untyped-def]
    return story.events, story.parameters, story.scans, story.seed, story.lane


@given(st.integers(0, 10**9))
@example(349519)  # the program begins to overrun in the middle of the story
@settings(max_examples=25, deadline=None)
def test_every_link_of_a_chain_agrees_with_the_run(seed: int) -> None:
    """On generated programs: the first link has the value asked about, and each value came when it says so."""
    found, told, name, at = _asked(Random(seed))
    assert found.controller is not None
    result = why(found, told, name, at)
    assert result.links[0].name == name
    at = result.causes.at_ms
    trace = ReferenceEngine().run(found, replace(told, duration_ms=at), watch=frozenset(), record=True).trace
    assert trace is not None
    assert result.links[0].value == result.causes.value
    if not trace.times:
        return  # a controller that never ran shows what it starts with
    assert result.causes.value == trace.tags[name][-1]
    for link in result.links:
        assert link.since_ms <= at
        row = trace.times.index(link.since_ms) if link.since_ms in trace.times and link.rung is not None else None
        # outputs are seen at their terminals, which a stop holds and a cut lets go
        if row is not None and found.controller.tags.get(link.name, None) is not None:
            role = found.controller.tags[link.name].role
            assert role == "output" or trace.tags[link.name][row] == link.value
