"""The table of faults: what a safety reviewer would write of a small rig, row by row."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rungproof.logic.checks.replay import replay_story
from rungproof.logic.engines.forked import ForkedRuns
from rungproof.logic.faults.judge import _figure, _outcome_of
from rungproof.logic.faults.result import OUTCOMES, FaultRow, FaultTable
from rungproof.logic.faults.table import fault_table
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.verbs.reading import understand


@pytest.fixture(scope="module")
def table(wired: Program) -> FaultTable:
    """The table of the rig whose stop acts by wire; every story run again in the reference engine."""
    return fault_table(wired, replay=True, workers=1)


def row(table: FaultTable, name: str) -> FaultRow:
    """The row of a fault by its name."""
    return next(each for each in table.rows if each.name == name)


def test_every_knob_that_can_fail_has_a_row(wired: Program, table: FaultTable) -> None:
    """No fault of the model is missing, and every row has one of the words that the legend explains."""
    named = {each.part for each in table.rows}
    assert {key.partition("!")[0] for key, knob in wired.knobs.items() if knob.kind in ("fault", "stop")} <= named
    assert {each.outcome for each in table.rows} <= OUTCOMES.keys()


def test_where_nothing_runs_no_fault_is_said_to_have_no_effect(wired: Program) -> None:
    """Without a safe state to leave nothing was tried: no row, a reason, and no clean exit code."""
    found = fault_table(replace(wired, hazards=()), workers=1)
    assert (found.rows, found.runs, found.exit_code) == ((), 0, 3)
    assert found.untried[-1].startswith("no fault was tried")


def test_every_story_is_run_again_by_the_reference_engine(table: FaultTable) -> None:
    """A row without a story says that nothing depends on its fault; `fault_table` fails where engines differ."""
    for each in table.rows:
        assert each.replayed == bool(each.story)
        assert bool(each.story) == (each.outcome != "no effect")


def test_a_rows_story_is_a_scenario_that_replays(wired: Program, table: FaultTable) -> None:
    """It is text in the language, without a mistake."""
    for name in ("S0 seized", "X2:1 stays_on", "controller hung", "P24 dips 20 ms"):
        replayed = replay_story(wired, row(table, name).story, "story.rung")
        assert not replayed.diagnoses
        assert len(replayed.scenarios) == 1


@pytest.mark.parametrize(
    ("name", "outcome", "shows"),
    [
        ("S0 seized", "hazard open", "on demand"),
        ("S0.1 welded", "hidden", "never"),
        ("S0.2 welded", "hidden", "on demand"),
        ("S0.1 stays_open", "goes safe", "at once"),
        ("X1:2 wire_broken", "goes safe", "at once"),
        ("X1:2 shorted_to_supply", "hidden", "on demand"),
        ("X2:1 stays_on", "hazard open", "on demand"),
        ("X2:1 stays_off", "goes safe", "at once"),
        ("P1 burnt_out", "shown", "at once"),
        ("controller hung", "hidden", "on demand"),
        ("P24 lost", "goes safe", "at once"),
        ("P24 dips 500 ms", "goes safe", "at once"),
    ],
)
def test_a_row_says_what_a_reviewer_would(table: FaultTable, name: str, outcome: str, shows: str) -> None:
    """One welded contact of two is hidden; a stuck output moves the motor unasked; broken wires stop it."""
    found = row(table, name)
    assert (found.outcome, found.shows) == (outcome, shows)


#: A press whose safe state is told by its ram, not by its coil alone; it stops by itself at the end of its stroke.
PRESS = """\
plant "Bench press" every 5 ms
    press PR1          stroke 80 mm, advances in 400 ms, returns in 300 ms
    push_button S1     make contact
    supply P24         24 V

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P24
    hand        at X1:1  from S1
    at_bottom   at X1:2  from PR1.bottom
    ram_down    at X2:1  to PR1.valve

controller "Bench press" every 10 ms

tags
    hand       input   bool
    at_bottom  input   bool
    ram_down   output  bool  on stop off

rung ram
    rising hand or ram_down
    hand
    not at_bottom
    => ram_down

hazard H1 "The ram comes down on a hand"  safe state not PR1.energised and not PR1.advancing

scenario "A stroke"
    at 100 ms  press S1
    expect     PR1.advancing within 100 ms
"""


def test_a_ram_that_stops_only_at_its_end_has_not_answered() -> None:
    """A valve that sticks lets the stroke run out: that the end comes a scan sooner than unasked is no safe state."""
    understood = understand_texts({"press.rung": PRESS})
    assert understood.program is not None, understood.diagnoses
    stuck = row(fault_table(understood.program, workers=1), "PR1 valve_stuck")
    assert (stuck.outcome, stuck.hazards) == ("hazard open", ("H1",))
    assert "no answer" in stuck.does


def test_what_moves_unasked_shows_however_short_it_is() -> None:
    """A short to the supply, 200 ms on and 300 ms off, at rest: nobody overlooks a ram that starts by itself."""
    understood = understand_texts({"press.rung": PRESS.replace("at 100 ms", "at 1 s")})
    assert understood.program is not None, understood.diagnoses
    short = row(fault_table(understood.program, workers=1), "X2:1 shorted_to_supply, on and off")
    assert (short.shows, short.detected) == ("at once", "the machine goes")


def test_a_stop_through_the_program_alone_is_open_to_one_stuck_output(table: FaultTable, unwired: Program) -> None:
    """The claim that one fault does not matter is broken there, and not where the stop acts by wire."""
    broken = fault_table(unwired, workers=1)
    stuck = row(broken, "X2:1 stays_on")
    assert (stuck.outcome, stuck.claimed, stuck.hazards) == ("hazard open", ("R1",), ("H1",))
    assert broken.exit_code == 1
    assert not any(each.claimed for each in table.rows)


@pytest.mark.parametrize(
    ("example", "requirement", "outcome"),
    [
        ("header_tank", "R2", "late"),
        ("sump_pair", "R6", "hazard open"),
        ("sump_pair", "R1", "requirement broken"),
    ],
)
def test_an_amount_past_its_limit_is_no_late_answer(example: str, requirement: str, outcome: str) -> None:
    """A pump that stops too late answers late; a sump that is too full is the hazard, after whatever time."""
    program = understand(Path(__file__).parents[3] / "examples" / example).program
    assert program is not None
    [broken] = [each for each in program.requirements if each.name == requirement]
    assert _outcome_of(broken) == outcome


def test_times_to_safe_are_measured_from_what_is_asked(table: FaultTable) -> None:
    """By wire the motor loses its supply within two ticks; through the program within three scans."""
    slowest = row(table, "S0.1 welded").safe[0]
    assert slowest.reached_ms is not None
    assert 10 <= slowest.reached_ms <= 30
    assert row(table, "S0 seized").time_to_safe_ms is None


def test_the_table_does_not_depend_on_how_many_processes_make_it(wired: Program, table: FaultTable) -> None:
    """Same rows, same stories, with two as with one."""
    two = fault_table(wired, workers=2)
    assert [replace(each, replayed=bool(each.story)) for each in two.rows] == list(table.rows)


def test_a_run_broken_off_and_gone_on_with_is_the_run_itself(wired: Program) -> None:
    """Same rows, same violations, wherever it is broken off, with an event at that very instant too."""
    story = wired.scenarios[0].story
    runs = ForkedRuns(wired, ("run", "M1.energised", "P1.lit"), story)
    whole = runs.end(1000, story.events)
    for at in (5, 100, 105, 200, 995):
        mark = runs.to(at, story.events)
        assert runs.end(1000, [], mark) == whole


def test_two_welded_contacts_open_what_neither_opens_alone(wired: Program) -> None:
    """The wired contact welded, unseen, and then the program's: the stop does nothing. Either alone is hidden."""
    pairs = fault_table(wired, pairs=True, workers=1)
    assert pairs.pairs is not None
    found = {(each.first, each.name): each for each in pairs.pairs}
    both = found[("S0.1", "welded"), "S0.2 welded"]
    assert (both.outcome, both.hazards, both.claimed) == ("hazard open", ("H1",), ())
    assert "fault S0.1 welded" in both.story
    assert "fault S0.2 welded" in both.story
    assert pairs.pairs_tried > 100
    assert not any("P2" in each.part for each in pairs.pairs), "a lamp that nothing reads is in no pair"
    assert all(row(pairs, f"{each.part} {each.fault}").outcome in OUTCOMES for each in pairs.pairs)


def test_what_the_file_leaves_out_has_no_row_but_its_reason_is_printed(wired: Program) -> None:
    """The reason stands in the table beside the fault's name."""
    text = next(iter(wired.sources)).text + '\nexclude "Cards with a watchdog"\n    fault any stays_on\n'
    understood = understand_texts({"rig.rung": text})
    assert understood.program is not None
    table = fault_table(understood.program, workers=1)
    assert {(each.part, each.fault) for each in table.excluded} == {
        (part, "stays_on") for part in ("X1:1", "X1:2", "X2:1", "X2:2")
    }
    assert {each.reason for each in table.excluded} == {"Cards with a watchdog"}
    assert not any(each.fault == "stays_on" for each in table.rows)


@pytest.mark.parametrize(("value", "figure"), [(1.29e-88, "0"), (-1e-9, "0"), (0.0, "0"), (5.482, "5.48"), (12, "12")])
def test_what_a_decay_leaves_of_nothing_is_0(value: float, figure: str) -> None:
    """A flow that has run down is told as 0, not by an exponent that nobody can read off."""
    assert _figure(value) == figure
