"""Runs without a plant: power, stops, instants, assumptions, expectations, parameters, free outputs."""

from __future__ import annotations

import pytest
from rigs import ENGINE, bits, controller, program_of, run, trace_of
from rungproof.logic.engines.contract import Judgement
from rungproof.logic.meaning.program import Event, Story

TAGS = """
    a     input  bool
    n     input  real V 0..10
    kept  memory bool retained
    seal  memory bool
    q     output bool on stop on
    v     output real V 0..10 on stop hold
"""
RUNGS = """
    seal: a or seal; => seal; => q
    kept: a; => set kept; => v := n
"""
RIG = controller(TAGS, RUNGS, "20 ms")


def columns(
    text: str, names: str, duration: int, *events: tuple[int, str, bool | float]
) -> dict[int, tuple[object, ...]]:
    """The values of some tags at every instant."""
    trace = trace_of(run(text, duration, *events))
    return dict(zip(trace.times, zip(*(trace.tags[name] for name in names.split()), strict=True), strict=True))


# ----------------------------------------------------------------------- power


def test_a_cut_takes_effect_at_the_next_boundary() -> None:
    """The scan that a cut ends is not written: terminals are dead, unretained memory is lost, inputs as last read."""
    seen = columns(RIG, "a kept seal q v", 140, (30, "a", True), (30, "n", 5.0), (70, "controller!cut", True))
    assert seen == {
        20: (False, False, False, False, 0.0),
        40: (False, False, False, False, 0.0),
        60: (True, True, True, True, 5.0),
        80: (True, True, False, False, 0.0),
    }


def test_power_returns_on_the_millisecond_grid() -> None:
    """Without power it is looked for every millisecond; the return is an instant, and a first scan begins at it."""
    outcome = run(RIG, 150, (0, "a", True), (30, "controller!cut", True), (93, "controller!cut", False))
    assert trace_of(outcome).times == [20, 40, 93, 113, 133, 153]
    assert trace_of(outcome).scan_starts == [0, 20, 93, 113, 133]
    assert outcome.scans == 5
    assert outcome.ended_at == 153


def test_a_cut_between_two_boundaries_is_not_seen() -> None:
    """A cut that comes and goes within a scan changes nothing."""
    seen = columns(
        RIG, "seal", 80, (0, "a", True), (15, "a", False), (25, "controller!cut", True), (35, "controller!cut", False)
    )
    assert list(seen.values()) == [(True,)] * 4


def test_what_a_scan_kept_survives_though_it_was_not_written() -> None:
    """Retained memory is as the scan that the cut ended left it."""
    seen = columns(RIG, "kept q", 50, (20, "a", True), (25, "controller!cut", True))
    assert seen == {20: (False, False), 40: (True, False)}


def test_power_may_be_away_from_the_start() -> None:
    """A controller that is dead at 0 shows start values until its first scan ends; t = 0 is no instant."""
    outcome = run(RIG, 60, (0, "a", True), (0, "controller!cut", True), (30, "controller!cut", False))
    assert trace_of(outcome).times == [30, 50, 70]
    assert bits(trace_of(outcome).tags["seal"]) == "011"
    assert bits(trace_of(outcome).tags["a"]) == "011"


def test_a_run_that_ends_without_power_ends_where_it_last_looked() -> None:
    """`ended_at` is the last instant: the start of the cut."""
    outcome = run(RIG, 500, (30, "controller!cut", True))
    assert (outcome.ended_at, outcome.scans) == (40, 2)


def test_a_run_of_nothing_ends_at_its_first_instant() -> None:
    """Even a duration of 0 reaches the first instant."""
    assert run(RIG, 0).ended_at == 20


# ----------------------------------------------------------------------- stops


def test_a_stop_does_what_on_stop_says() -> None:
    """Stopped, terminals take their `on stop` values or hold; memory is lost as in a cut; nothing seals on."""
    events = (
        (0, "a", True),
        (0, "n", 5.0),
        (15, "a", False),
        (70, "controller!stopped", True),
        (90, "controller!stopped", False),
    )
    assert columns(RIG, "a kept seal q v", 120, *events) == {
        20: (True, True, True, True, 5.0),
        40: (False, True, True, True, 5.0),
        60: (False, True, True, True, 5.0),
        80: (False, True, False, True, 5.0),
        90: (False, True, False, True, 5.0),
        110: (False, True, False, False, 0.0),
        130: (False, True, False, False, 0.0),
    }


def test_a_stopped_controller_that_loses_power_has_dead_terminals() -> None:
    """No power goes before stopped; what `hold` holds after power returns is nothing."""
    events = (
        (0, "a", True),
        (0, "n", 5.0),
        (15, "controller!stopped", True),
        (50, "controller!cut", True),
        (70, "controller!cut", False),
    )
    assert columns(RIG, "q v", 100, *events) == {20: (True, 0.0), 50: (False, 0.0), 70: (True, 0.0)}


def test_a_resumed_controller_begins_as_after_power_up() -> None:
    """After a stop `power_up` is true once more and nothing is an edge."""
    text = controller(
        "a input bool\nup output bool\nedge output bool", "up: power_up; => up\nedge: rising a; => edge", "20 ms"
    )
    events = ((30, "controller!stopped", True), (60, "a", True), (60, "controller!stopped", False))
    assert columns(text, "up edge", 110, *events) == {
        20: (True, False),
        40: (False, False),
        60: (False, False),
        80: (True, False),
        100: (False, False),
        120: (False, False),
    }


# ---------------------------------------------------------------- requirements

REQUIREMENTS = """
requirement power "Seen once after each power-up"
    never power_up

requirement cut "A cut is an instant, at its start and at its end"
    at most 1 falling seal in any 1 h

requirement time "Time without power counts"
    whenever seal then not seal within 100 ms

requirement hold "It never holds for so long"
    whenever kept has stood for 100 ms then seal
"""


def judged(duration: int, *events: tuple[int, str, bool], **more: object) -> dict[str, Judgement]:
    return dict(run(RIG + REQUIREMENTS, duration, *events, **more).judgements)


def test_power_up_is_seen_with_the_scan_it_was_in() -> None:
    """A requirement sees `power_up` from the end of that scan on."""
    assert judged(200)["power"].violated_at == 20
    cut = run(
        RIG + '\nrequirement power "x"\n    from 30 ms never power_up\n',
        100,
        (30, "controller!cut", True),
        (50, "controller!cut", False),
    )
    assert cut.judgements["power"].violated_at == 70


def test_scanning_is_off_before_the_first_scan_and_through_a_cut_and_a_stop() -> None:
    """`scanning` is on at every scan end and off at the instants where nobody scans, whatever the reason."""
    text = RIG + '\nrequirement on "x"\n    never scanning\n\nrequirement off "x"\n    never not scanning\n'
    assert run(text, 100).judgements["on"].violated_at == 20
    assert run(text, 100).judgements["off"].violated_at is None
    for key in ("controller!cut", "controller!stopped"):
        judgements = run(text, 100, (50, key, True), (70, key, False)).judgements
        assert judgements["off"].violated_at == 60  # a cut and a stop take effect at the next scan end


def test_a_response_that_asks_for_scanning_starts_anew_after_a_cut() -> None:
    """`A and scanning has stood for T` counts from the first scan after the power came back."""
    text = RIG + '\nrequirement r "x"\n    whenever scanning has stood for 40 ms then not scanning\n'
    assert run(text, 200).judgements["r"].violated_at == 60
    assert (
        run(text, 200, (50, "controller!cut", True), (80, "controller!cut", False)).judgements["r"].violated_at == 140
    )


def test_memory_lost_in_a_cut_falls() -> None:
    """Monitors see what a cut takes, and keep their own memory through it."""
    events = [
        (0, "a", True),
        (30, "controller!cut", True),
        (50, "controller!cut", False),
        (90, "controller!cut", True),
        (110, "controller!cut", False),
    ]
    found = judged(200, *events)
    assert (found["cut"].violated_at, found["cut"].triggers) == (90, 2)


def test_obligations_run_on_without_power() -> None:
    """Time passes for monitors while there is no power; at its return they see that it is too late, or not."""
    late = judged(400, (0, "a", True), (15, "a", False), (30, "controller!cut", True), (300, "controller!cut", False))
    assert late["time"] == Judgement(None, 1, False)
    stands = judged(400, (0, "a", True), (15, "a", False))
    assert stands["time"] == Judgement(140, 20, True)
    assert late["hold"].violated_at == 300


def test_it_watches_what_it_is_told() -> None:
    """`watch` narrows the requirements judged; a name unknown is refused."""
    program = program_of(RIG + REQUIREMENTS)
    assert set(ENGINE.run(program, Story(100), watch=frozenset({"cut"})).judgements) == {"cut"}
    with pytest.raises(ValueError, match="no requirement cutt"):
        ENGINE.run(program, Story(100), watch=frozenset({"cutt"}))


def test_it_can_stop_at_the_first_violation() -> None:
    """With `stop_at_violation` the run ends at the instant of the first one."""
    outcome = run(RIG + REQUIREMENTS, 10_000, stop_at_violation=True)
    assert (outcome.ended_at, outcome.judgements["power"].violated_at) == (20, 20)


# ----------------------------------------------------------------- assumptions

ASSUMED = (
    RIG
    + """
assume "The voltage does not fall"
    not falling a

assume "The voltage stays low"
    n < 5 V

requirement high "It never asks"
    never q
"""
)


def test_a_run_is_cut_before_the_first_breach() -> None:
    """At the instant of a breach nobody else looks; what came before stands."""
    outcome = run(ASSUMED, 200, (50, "n", 7.0), (50, "a", True))
    assert outcome.assumption_broken == (1, 80)
    assert outcome.ended_at == 60
    assert outcome.judgements["high"] == Judgement(None, 3, False)
    assert trace_of(outcome).times == [20, 40, 60]


def test_assumptions_own_their_edges() -> None:
    """An edge in an assumption is seen from instant to instant."""
    assert run(ASSUMED, 200, (50, "a", True), (90, "a", False)).assumption_broken == (0, 120)
    assert run(ASSUMED, 200).assumption_broken is None


# ---------------------------------------------------------------- expectations

SCENARIO = (
    RIG
    + """
scenario "x"
    at 0 s    set a on
    at 100 ms set a off
    expect    {0}
"""
)


@pytest.mark.parametrize(
    ("expected", "met"),
    [
        ("seal", True),
        ("not seal", False),
        ("not a within 40 ms", True),
        ("not seal within 40 ms", False),
        ("seal for 40 ms", True),
        ("a for 40 ms", False),
    ],
)
def test_expectations(expected: str, met: bool) -> None:
    """`expect` counts from the last event: at the end, within a time, for a time."""
    program = program_of(SCENARIO.format(expected))
    outcome = ENGINE.run(program, program.scenarios[0].story, scenario=0)
    assert outcome.expectations == (met,)


@pytest.mark.parametrize("expected", ["seal", "not seal within 90 ms", "seal for 90 ms"])
def test_a_run_that_ends_too_early_says_nothing(expected: str) -> None:
    """An expectation that the run did not reach is neither met nor missed."""
    program = program_of(SCENARIO.format(expected) + ASSUMED.removeprefix(RIG))
    story = program.scenarios[0].story
    early = Story(story.duration_ms, (*story.events, Event(130, "n", 7.0)), scans=story.scans)
    assert ENGINE.run(program, early, scenario=0).expectations == (None,)


def test_a_time_without_an_instant_says_nothing() -> None:
    """Where no instant lies inside the time of an expectation, nothing was looked at."""
    program = program_of(SCENARIO.format("a for 5 ms").replace("100 ms", "101 ms"))
    assert ENGINE.run(program, program.scenarios[0].story, scenario=0).expectations == (None,)


# ---------------------------------------------------- parameters, free outputs


def test_parameters_come_from_the_story() -> None:
    """A parameter is constant in a run: the story's value, else the file's."""
    text = controller(
        "a input bool\np parameter real V 0..10 = 4\nv output real V 0..10 on stop hold", "v: => v := p", "20 ms"
    )
    assert run(text, 20).final["v"] == 4.0
    outcome = run(text, 20, parameters=(("p", 7),))
    assert (outcome.final["v"], outcome.final["p"]) == (7.0, 7.0)


def test_free_outputs_take_the_terminals() -> None:
    """From its first event on, a free output drives its terminal at every scan end; the program's own value runs on."""
    text = controller("a input bool\nseen output bool\nq output bool", "q: a; => q\nseen: q; => seen", "20 ms")
    assert columns(text, "q seen", 100, (0, "a", True), (30, "q", False), (90, "q", True)) == {
        20: (True, True),
        40: (False, True),
        60: (False, True),
        80: (False, True),
        100: (True, True),
    }


@pytest.mark.parametrize(
    ("story", "words"),
    [
        (Story(10, (Event(0, "aa", True),)), "a story sets `aa`, which nothing here is called (did you mean `a`?)"),
        (Story(10, (Event(0, "zzzz", True),)), "a story sets `zzzz`, which nothing here is called"),
        (Story(10, parameters=(("a", True),)), "a story sets `a`, which is no parameter"),
        (
            Story(10, scans=(30,)),
            "a story has a scan of 30 ms; this controller scans every 20..20 ms, in steps of 1 ms",
        ),
    ],
)
def test_a_story_of_another_program_is_refused(story: Story, words: str) -> None:
    """Keys, parameters and scans that the program has not are errors, never silence."""
    with pytest.raises(ValueError) as caught:
        ENGINE.run(program_of(RIG), story)
    assert str(caught.value) == words


def test_of_two_events_at_once_the_later_wins() -> None:
    """Events on one key at one time: the later in the tuple wins."""
    assert run(RIG, 20, (0, "a", True), (0, "a", False)).final["a"] is False
    assert run(RIG, 20, (0, "a", False), (0, "a", True)).final["a"] is True


def test_a_run_repeats() -> None:
    """The same story gives the same outcome."""
    events = ((3, "a", True), (55, "controller!cut", True), (77, "controller!cut", False))
    assert run(RIG + REQUIREMENTS, 300, *events) == run(RIG + REQUIREMENTS, 300, *events)
