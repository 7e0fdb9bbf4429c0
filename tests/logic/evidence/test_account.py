"""A run told: events, changes and numbers by their instants."""

from __future__ import annotations

import dataclasses

import pytest
from rungproof.logic.evidence.account import Moment, wanted
from rungproof.logic.evidence.run_account import run_account
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

TEXT = """\
controller "Pump" every 10 ms

tags
    start_pb  input   bool
    level     input   int 0..100
    pump      output  bool         on stop off
    half      memory  real L 0..50

rung run
    start_pb
    on-delay 30 ms as hold
    => pump

rung half
    => half := 0.5 L * level

scenario "A press and a level"
    at 0 s     set level 10
    at 20 ms   press start_pb for 60 ms
    at 100 ms  set level 40
    ends at 200 ms
"""


@pytest.fixture(scope="module")
def program() -> Program:
    understood = understand_texts({"pump.rung": TEXT})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def test_events_and_changes_stand_at_their_instants(program: Program) -> None:
    """The input of a scan is seen at its end, the delay counts from the first powered scan."""
    told = run_account(program, program.scenarios[0]).account
    changes = {moment.at_ms: dict(moment.changes) for moment in told.moments if moment.changes}
    assert changes == {
        30: {"start_pb": True},
        60: {"pump": True, "hold": True},
        90: {"start_pb": False, "pump": False, "hold": False},
    }
    events = {moment.at_ms: moment.events for moment in told.moments if moment.events}
    assert sorted(events) == [0, 20, 80, 100]
    assert events[0] == ("set level 10",)


def test_numbers_are_told_first_last_and_at_the_interval(program: Program) -> None:
    """Without an interval only the ends; with one, the first instant at or after each multiple."""
    scenario = program.scenarios[0]

    def told(every_ms: int | None) -> list[tuple[int, dict[str, float | int]]]:
        moments = run_account(program, scenario, every_ms=every_ms).account.moments
        return [(moment.at_ms, dict(moment.numbers)) for moment in moments if moment.numbers]

    assert [at for at, _ in told(None)] == [10, 200]
    assert [at for at, _ in told(50)] == [10, 50, 100, 150, 200]
    assert told(None)[-1][1] == {"level": 40, "half": 20.0}


def test_units_go_with_the_numbers(program: Program) -> None:
    """A tag's own unit, milliseconds for an elapsed time; a number without a unit has none."""
    assert run_account(program, program.scenarios[0]).account.units == {"half": "L", "hold.elapsed": "ms"}


def test_only_the_named_are_told(program: Program) -> None:
    """By name the insides of a stage can be had too; a wrong name says which there are."""
    scenario = program.scenarios[0]
    told = run_account(program, scenario, only=frozenset({"hold.elapsed"})).account
    assert {name for moment in told.moments for name, _ in (*moment.changes, *moment.numbers)} == {"hold.elapsed"}
    with pytest.raises(KeyError, match=r"there are: half, hold, hold\.elapsed"):
        run_account(program, scenario, only=frozenset({"hlod"}))


def test_a_part_stands_for_all_that_it_shows() -> None:
    """A name that is told itself stands for itself alone, and one that is nothing stays to be refused."""
    names = {"D1.shows_1", "D1.shows_2", "D10.lit", "hold", "hold.elapsed"}
    assert wanted(frozenset({"D1", "hold"}), names) == {"D1.shows_1", "D1.shows_2", "hold"}
    assert wanted(frozenset({"D2"}), names) == {"D2"}


def test_an_event_behind_the_end_is_not_told(program: Program) -> None:
    """A run cut short tells what happened in it."""
    scenario = program.scenarios[0]
    short = dataclasses.replace(scenario, story=dataclasses.replace(scenario.story, duration_ms=50))
    moments: tuple[Moment, ...] = run_account(program, short).account.moments
    assert max(moment.at_ms for moment in moments) <= 50


def test_a_run_too_long_to_hold_is_refused(program: Program) -> None:
    """A year of instants is not gathered before somebody notices."""
    scenario = program.scenarios[0]
    long = dataclasses.replace(scenario, story=dataclasses.replace(scenario.story, duration_ms=31_536_000_000))
    with pytest.raises(ValueError, match="too long"):
        run_account(program, long)


def test_the_last_instant_is_told_whole(program: Program) -> None:
    """Everything has its value at the end, also what the moments leave out."""
    at_last = run_account(program, program.scenarios[0]).account.at_last
    assert at_last["half"] == 20.0
    assert at_last["hold.elapsed"] == 0
    assert at_last["pump"] is False
