"""Scenarios and knobs: stories as events in time, over all that can be set."""

from __future__ import annotations

import pytest
from rungproof.grammar.catalogue.findings_plant import SOUND
from rungproof.logic.api import run_program
from rungproof.logic.meaning.program import Event, Scenario
from rungproof.logic.meaning.understand import Understanding, understand_texts

TAGS = """controller "Tags" every 10..20 ms

tags
    a       input      bool
    level   input      real cm 0..100 = 20
    count   input      int 0..9
    run     output     bool
    target  parameter  real cm 10..60 = 50

rung run
    rising a or run
    level < target
    count < 8
    => run

"""


def _understood(head: str, *lines: str) -> Understanding:
    return understand_texts({"a.rung": head + '\nscenario "S"\n' + "".join(f"    {line}\n" for line in lines)})


def _scenario(head: str, *lines: str) -> Scenario:
    understood = _understood(head, *lines)
    assert understood.program is not None, [d.message for d in understood.diagnoses]
    return understood.program.scenarios[0]


SOUND_TEXT = SOUND.files["sample.rung"]


def test_a_story_on_tags() -> None:
    """Events are sorted by time; what a line is worth stands in the knob's own unit."""
    story = _scenario(
        TAGS,
        "at 2 s set level 0.5 m",
        "at 1 s press a for 200 ms",
        "at 1 s set count 3",
        "at 3 s cut controller for 1 s",
        "at 5 s stop controller",
        "at 6 s resume controller",
        "parameter target = 0.3 m",
        "scans 10 ms, 20 ms",
        "noise seed 7 lane 3",
        "expect not run",
    ).story
    assert story.events == (
        Event(1000, "a", True),
        Event(1000, "count", 3),
        Event(1200, "a", False),
        Event(2000, "level", 50.0),
        Event(3000, "controller!cut", True),
        Event(4000, "controller!cut", False),
        Event(5000, "controller!stopped", True),
        Event(6000, "controller!stopped", False),
    )
    assert (story.parameters, story.scans, story.seed, story.lane) == ((("target", 30.0),), (10, 20), 7, 3)


def test_a_story_on_a_plant() -> None:
    """Parts, contacts, terminals and supplies have their knobs; a lone contact's fault needs no number."""
    story = _scenario(
        SOUND_TEXT,
        "at 0 s press S1 for 200 ms",
        "at 1 s fault LT1 echo_lost for 2 s",
        "at 1 s fault K1.1 welded",
        "at 2 s fault LS1 stays_open",
        "at 3 s fault X2:1 wire_broken",
        "at 4 s clear X2:1 wire_broken",
        "at 5 s cut P24 for 50 ms",
        "expect not p.energised",
    ).story
    assert [(e.at_ms, e.key, e.value) for e in story.events] == [
        (0, "S1.pressed", True),
        (200, "S1.pressed", False),
        (1000, "LT1!echo_lost", True),
        (1000, "K1.1!welded", True),
        (2000, "LS1.1!stays_open", True),
        (3000, "LT1!echo_lost", False),
        (3000, "X2:1!wire_broken", True),
        (4000, "X2:1!wire_broken", False),
        (5000, "P24!lost", True),
        (5050, "P24!lost", False),
    ]


@pytest.mark.parametrize(
    ("lines", "duration"),
    [
        (("at 2 s press a", "expect run within 3 s"), 5000),
        (("at 2 s press a", "expect run within 3 s", "expect run for 4 s"), 6000),
        (("at 2 s press a", "expect run"), 3000),
        (("at 2 s press a for 9 s", "expect run within 3 s"), 11_000),
        (("at 2 s press a", "ends at 8 s", "expect run"), 8000),
        (("expect not run for 1 s",), 1000),
    ],
)
def test_a_story_goes_on_until_all_that_it_expects_is_decided(lines: tuple[str, ...], duration: int) -> None:
    """`ends at`, else the last event and the longest expectation, else one second more."""
    assert _scenario(TAGS, *lines).story.duration_ms == duration


def test_expectations_count_from_the_last_event() -> None:
    """The last `at` line, whatever the order in which lines stand."""
    scenario = _scenario(TAGS, "at 4 s set level 1 cm", "at 2 s press a for 9 s", "expect run within 3 s")
    assert [(e.mode, e.from_ms, e.time_ms) for e in scenario.expectations] == [("within", 4000, 3000)]


@pytest.mark.parametrize(
    ("line", "code", "mend"),
    [
        ("at 0 s press strt", "story-target-unknown", None),
        ("at 0 s press S11", "story-target-unknown", "did you mean `S1`?"),
        ("at 0 s fault LT1 echo_list", "fault-unknown", "did you mean `echo_lost`?"),
        ("at 0 s fault X1:9 wire_broken", "story-target-unknown", "did you mean `X1:2`?"),
        ("at 0 s press start_pb", "sets-wired-input", "It is wired from S1.1: act on that part instead."),
        ("at 0 s set fill on", "sets-own-doing", None),
        ("at 0 s set t.level 5 cm", "not-settable", None),
        ("at 0 s cut LS1", "cut-no-supply", None),
        ("at 0 s set S1.pressed 1", "value-kind", None),
        ("scans 10 ms, 30 ms", "scan-outside-range", None),
    ],
)
def test_what_a_story_cannot_do_is_refused(line: str, code: str, mend: str | None) -> None:
    """With the nearest name, or what to do in its place."""
    found = _understood(SOUND_TEXT, line, "expect not p.energised").diagnoses
    assert [d.code for d in found] == [code]
    if mend is not None:
        assert found[0].mend == mend


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("at 12 ms cut controller for 5 ms", False),
        ("at 18 ms cut controller for 5 ms", True),
        ("at 12 ms cut controller for 10 ms", True),
        ("at 10 ms cut controller for 1 ms", True),
    ],
)
def test_a_cut_between_two_samples_is_pointed_at(line: str, seen: bool) -> None:
    """With a fixed scan the samples are known exactly."""
    head = TAGS.replace("every 10..20 ms", "every 10 ms")
    codes = [d.code for d in _understood(head, line, "expect not run").diagnoses]
    assert codes == ([] if seen else ["cut-unseen"])


def test_times_off_the_plants_tick_are_pointed_at() -> None:
    """The event happens at the next tick, and the message says when."""
    found = _understood(SOUND_TEXT, "at 7 ms press S1", "expect not p.energised").diagnoses
    assert [(d.code, d.message) for d in found] == [
        ("time-off-tick", "The plant moves every 5 ms: this happens at 10 ms.")
    ]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("at 10 ms press S1 for 7 ms", "expect not p.energised"), "this lasts 10 ms"),
        (
            ("at 10 ms press S1", "expect not p.energised within 33 ms"),
            "this is watched at its ticks, the last 30 ms on",
        ),
        (("at 10 ms press S1", "expect not p.energised", "ends at 1001 ms"), "the scenario ends at 1005 ms"),
    ],
)
def test_what_lasts_off_the_tick_is_no_instant(lines: tuple[str, ...], words: str) -> None:
    """A duration lasts to a tick, an expectation is watched at ticks only: each is told as what it is."""
    (found,) = _understood(SOUND_TEXT, *lines).diagnoses
    assert (found.code, found.message) == ("time-off-tick", f"The plant moves every 5 ms: {words}.")


def test_an_event_before_the_one_above_it_names_both_lines() -> None:
    """It is run in order of time all the same, and one slip is one finding."""
    lines = (
        "at 1 s press S1",
        "at 100 ms release S1",
        "at 2 s press S1",
        "at 2 s release S1",
        "expect not p.energised",
    )
    understanding = _understood(SOUND_TEXT, *lines)
    (found,) = understanding.diagnoses
    above = len(SOUND_TEXT.splitlines()) + 3
    assert (found.code, found.grade, found.span.line) == ("time-goes-back", "warning", above + 1)
    assert [span.line for span, _ in found.related] == [above]
    assert understanding.program is not None
    assert [event.at_ms for event in understanding.program.scenarios[0].story.events] == [100, 1000, 2000, 2000]


def test_many_times_off_the_tick_are_one_finding() -> None:
    """With their count, the lines they stand on, and a tick into which all times of the stories go."""
    lines = ("at 10 ms press S1 for 42 ms", "at 62 ms press S2", "at 100 ms press S1", "expect not p.energised")
    (found,) = _understood(SOUND_TEXT, *lines).diagnoses
    assert (found.code, found.span.line) == ("time-off-tick", len(SOUND_TEXT.splitlines()) + 3)
    words = "The plant moves every 5 ms: this lasts 45 ms; 2 times, in 2 lines, lie between its ticks."
    assert found.message == words
    assert found.mend == "give the plant a tick of 2 ms, or write whole multiples of 5 ms"


def test_a_tick_that_fits_no_part_is_one_finding() -> None:
    """At the tick, with what fits; stories are left out of it. One part that is off is at fault itself."""
    text = SOUND_TEXT.replace('plant "Sample" every 5 ms', 'plant "Sample" every 7 ms')
    two = text.replace("pulls in 20 ms", "pulls in 30 ms")
    (found,) = _understood(two, "at 10 ms press S1", "expect not p.energised").diagnoses
    assert (found.code, found.mend) == ("tick-misfits", "write a tick of 10 ms, or of a whole part of that")
    assert "2 parts: `LT1`, `K1`" in found.message
    few = 'plant "Sample" every 7 ms\n    supply P24   24 V\n\ncontroller "Sample" every 10 ms\n\n'
    scan = {d.code for d in _understood(few, "at 10 ms cut P24", "expect not P24.live").diagnoses}
    assert "scan-off-tick" in scan
    assert "time-off-tick" not in scan
    one = SOUND_TEXT.replace("pulls in 20 ms", "pulls in 21 ms")
    assert [d.code for d in _understood(one, "expect not p.energised").diagnoses] == ["part-impossible"]


def test_knobs_without_a_plant_are_the_inputs() -> None:
    """Input tags, power, parameters, and the outputs for requirements that leave them free."""
    program = understand_texts({"a.rung": TAGS}).program
    assert program is not None
    assert {key: knob.kind for key, knob in program.knobs.items()} == {
        "a": "tag",
        "level": "tag",
        "count": "tag",
        "controller!cut": "power",
        "controller!stopped": "stop",
        "target": "parameter",
        "controller!hung": "fault",
        "controller!overrun": "fault",
        "controller!memory_lost": "fault",
        "run": "free output",
    }
    assert (program.knobs["level"].low, program.knobs["level"].high, program.knobs["level"].start) == (0, 100, 20)


def test_knobs_with_a_plant_are_people_world_power_and_faults() -> None:
    """Every fault of every part, contact and wire; the loss of a supply is power, not a fault."""
    program = understand_texts(SOUND.files).program
    assert program is not None and program.plant is not None
    kinds: dict[str, set[str]] = {}
    for key, knob in program.knobs.items():
        kinds.setdefault(knob.kind, set()).add(key)
    assert kinds["operator"] == {"S1.pressed", "S2.pressed"}
    assert kinds["power"] == {"P24!lost", "controller!cut"}
    assert kinds["free output"] == {"fill"}
    assert "tag" not in kinds
    assert {"X1:1!wire_broken", "X2:1!wire_broken", "S2.1!welded", "LS1!stuck_up"} <= kinds["fault"]
    assembly = program.plant.assembly
    wires = {
        "X1:1": "wire_broken broken_at_part shorted_to_supply shorted_to_zero swapped_with_next stays_on stays_off",
        "X1:2": "wire_broken broken_at_part shorted_to_supply shorted_to_zero stays_on stays_off",
        "X2:1": "wire_broken broken_at_part shorted_to_supply shorted_to_zero floats frozen range_wrong",
        "X4:1": "wire_broken shorted_to_supply shorted_to_zero stays_on stays_off",
        "controller": "hung overrun memory_lost",
    }
    at_wires = {f"{place}!{name}" for place, names in wires.items() for name in names.split()}
    assert kinds["fault"] == (set(assembly.faults) - {"P24!lost"}) | at_wires
    assert set(assembly.environment) <= set(program.knobs) | {k for k in assembly.environment if "~" in k}


KEYED = SOUND_TEXT.replace("    relay K1 ", "    key_switch S7          positions 3\n    relay K1 ")
KEY_IN = "at 1 s press S7.key_in for 2 s"
TO_2, TO_3 = "at 2 s set S7.turned_to 2", "at 3 s set S7.turned_to 3"
EARLY_2, EARLY_3 = "at 500 ms set S7.turned_to 2", "at 600 ms set S7.turned_to 3"
BACK, AGAIN = "at 4 s set S7.turned_to 1", "at 5 s set S7.turned_to 2"


@pytest.mark.parametrize(
    ("lines", "unheard", "position"),
    [
        ((TO_2,), [TO_2], 1),
        ((KEY_IN, TO_2), [], 2),
        ((KEY_IN, "at 1 s set S7.turned_to 2"), [], 2),
        ((EARLY_2, KEY_IN), [], 2),
        ((EARLY_2, EARLY_3, KEY_IN), [EARLY_2], 3),
        ((KEY_IN, TO_2, TO_3), [TO_3], 2),
        ((KEY_IN, TO_2, BACK, AGAIN), [BACK], 2),
        (("at 1 s fault S7 turns_without_key", TO_2), [], 2),
        (("at 1 s set S7.turned_to 1",), [], 1),
    ],
)
def test_a_key_switch_that_is_turned_without_its_key_is_told(
    lines: tuple[str, ...], unheard: list[str], position: int
) -> None:
    """Every turn that the lock keeps back until the next one; a run ends in the position that this comes to."""
    understood = _understood(KEYED, *lines, "ends at 6 s", f"expect S7.position = {position}")
    text = understood.sources[0].text.splitlines()
    told = [text[d.span.line - 1].strip() for d in understood.diagnoses if d.code == "turned-without-key"]
    assert told == unheard
    assert understood.program is not None
    assert run_program(understood.program, understood.program.scenarios[0]).exit_code == 0
