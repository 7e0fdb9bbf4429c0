"""Findings of plant and wiring: what brings each out, and the near miss that does not."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from rungproof.grammar.catalogue.findings_plant import SOUND, TWO_CHANNELS
from rungproof.logic.meaning.findings.believes import believed, nominal, reading, sensors_of
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Channel, Program
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.meaning.units import known_unit


def _spoilt(*changes: tuple[str, str]) -> str:
    text = SOUND.files["sample.rung"]
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def _codes(*changes: tuple[str, str]) -> list[str]:
    return [d.code for d in understand_texts({"a.rung": _spoilt(*changes)}).diagnoses]


def _program(*changes: tuple[str, str]) -> Program:
    program = understand_texts({"a.rung": _spoilt(*changes)}).program
    assert program is not None
    return program


VOLUME = (
    ("cm -100..300", "cm -100..300\n    volume  memory  real L -9999..9999"),
    ("distance > 60 cm", "volume < 200 L"),
)


def _volume(expression: str) -> tuple[tuple[str, str], ...]:
    return (*VOLUME, ("rung fill", f"rung volume\n    => volume := {expression}\n\nrung fill"))


# ------------------------------------------------------------------- scaling


def test_the_sound_project_is_left_alone() -> None:
    """Every sample of these findings is this project with one thing spoilt."""
    assert _codes() == []


@pytest.mark.parametrize(
    ("ma", "counts"), [(0, 0), (4, 13107), (8, 26214), (12, 39321), (16, 52428), (20, 65535), (21, 65535), (3.7, 12124)]
)
def test_a_channel_gives_the_published_counts(ma: float, counts: int) -> None:
    """16 bit over 0..20 mA: 4/8/12/16/20 mA are the points of a loop check (IEC 62382, from memory)."""
    assert reading(Channel(0.0, 20.0, known_unit("mA"), 0, 65535), ma) == counts


def test_a_level_is_pushed_through_transmitter_channel_and_rungs() -> None:
    """Worked by hand: level 60 cm, 135 cm - 60 cm = 75 cm away, half of the span, 12 mA, 39321 counts, 75 cm."""
    program = _program()
    (sensor,) = sensors_of(program)
    assert (sensor.level_at(0.0), sensor.level_at(0.5), sensor.level_at(1.0)) == (10.0, 60.0, 110.0)
    assert sensor.signal_at(60.0) == 12.0
    held = reading(sensor.channel, 12.0)
    assert held == 39321
    assert believed(program, "level_counts", held)["distance"] == pytest.approx(75.0, abs=1e-3)


def test_the_volume_at_a_level_is_that_of_the_cylinder() -> None:
    """pi d2/4 h for an upright cylinder of 60 cm diameter (geometry); nothing is known beyond its rim."""
    (sensor,) = sensors_of(_program())
    assert sensor.volume_at(60.0) == pytest.approx(math.pi * 30**2 * 60 / 1000, rel=1e-9)
    assert sensor.volume_at(111.0) is None


@pytest.mark.parametrize("area", ["2827 cm2", "2830 cm2", "2820 cm2"])
def test_an_area_rounded_by_hand_agrees(area: str) -> None:
    """Half a percent of the span is no disagreement."""
    assert _codes(*_volume(f"{area} * (135 cm - distance)")) == []


@pytest.mark.parametrize("expression", ["2800 cm2 * (135 cm - distance)", "2827 cm2 * (130 cm - distance)"])
def test_a_wrong_area_or_mounting_is_found_in_the_volume(expression: str) -> None:
    """One percent of the area, five centimetres of mounting."""
    assert _codes(*_volume(expression)) == ["scaling-disagrees"]


def test_a_wrong_distance_is_told_once_and_not_again_of_the_volume() -> None:
    """What is worked out from a wrong length is wrong with it."""
    changes = (*_volume("2827 cm2 * (135 cm - distance)"), ("13107..65535", "0..65535"))
    assert _codes(*changes) == ["scaling-disagrees"]


@pytest.mark.parametrize(
    "scaling",
    [
        "scale(level_counts, 13107..65535, 25 cm..125 cm)",
        "135 cm - scale(level_counts, 13107..65535, 25 cm..125 cm)",
        "scale(level_counts, 13107..65535, 110 cm..10 cm)",
        "scale(level_counts, 13107..65535, 0 cm..100 cm)",
        "filter(scale(level_counts, 13107..65535, 25 cm..125 cm), 2 s)",
        "table(level_counts, 13107: 25 cm, 39321: 75 cm, 65535: 125 cm)",
    ],
)
def test_a_length_may_be_the_distance_the_level_or_what_is_left_free(scaling: str) -> None:
    """Near misses: each of these is true of the tank; the last reaches from the rim down."""
    assert "scaling-disagrees" not in _codes(("scale(level_counts, 13107..65535, 25 cm..125 cm)", scaling))


@pytest.mark.parametrize(
    "scaling",
    [
        "scale(level_counts, 0..65535, 25 cm..125 cm)",
        "scale(level_counts, 13107..65535, 125 cm..25 cm)",
        "scale(level_counts, 13107..65535, 20 cm..120 cm)",
        "table(level_counts, 13107: 25 cm, 39321: 80 cm, 65535: 125 cm)",
    ],
)
def test_a_length_that_is_none_of_them_is_found(scaling: str) -> None:
    """Wrong counts, wrong way round, wrong sensor, and a table wrong in the middle only."""
    assert "scaling-disagrees" in _codes(("scale(level_counts, 13107..65535, 25 cm..125 cm)", scaling))


RISES = ("as 4..20 mA, on lost echo 20 mA", "as 4..20 mA, rises with level, on lost echo 4 mA")


@pytest.mark.parametrize(
    ("scaling", "sound"),
    [
        ("scale(level_counts, 13107..65535, 125 cm..25 cm)", True),
        ("scale(level_counts, 13107..65535, 10 cm..110 cm)", True),
        ("scale(level_counts, 13107..65535, 25 cm..125 cm)", False),
    ],
)
def test_a_signal_that_rises_with_the_level_is_scaled_the_other_way(scaling: str, sound: bool) -> None:
    """Worked by hand: 4 mA, 13107 counts, at 125 cm away or 10 cm deep; 20 mA at 25 cm away or 110 cm deep."""
    changes = (RISES, ("scale(level_counts, 13107..65535, 25 cm..125 cm)", scaling))
    (sensor,) = sensors_of(_program(*changes))
    assert [sensor.signal_at(level) for level in (10.0, 60.0, 110.0)] == [4.0, 12.0, 20.0]
    assert [sensor.distance_at(percent) for percent in (0, 50, 100)] == [125.0, 75.0, 25.0]
    assert ("scaling-disagrees" in _codes(*changes)) is not sound


# ------------------------------------------------------------------- signals


def test_a_live_zero_on_a_channel_from_zero_shows_its_loss() -> None:
    """4..20 mA into 0..20 mA: the near miss. Into 4..20 mA the channel cuts the loss off."""
    assert _codes() == []
    assert _codes(("0..20 mA as", "4..20 mA as"), ("13107..65535", "0..65535")) == ["loss-looks-like-reading"]


@pytest.mark.parametrize(
    ("far_end", "way"), [("0..10 V", "t full"), ("0..10 V, rises with level", "t empty"), ("10..0 V", "")]
)
def test_the_message_says_which_way_the_plant_then_goes(far_end: str, way: str) -> None:
    """A transmitter that looks down sends little when the tank is full, unless its signal rises with the level."""
    text = _spoilt(
        ("as 4..20 mA, on lost echo 20 mA", f"as {far_end}, on lost echo 10 V"),
        ("0..20 mA as", "0..10 V as"),
        ("13107..65535", "0..65535"),
    )
    found = understand_texts({"a.rung": text}).diagnoses
    if way:
        told = found[-1]
        assert told.code == "loss-looks-like-reading"
        assert way in told.message and "distance 25 cm" in told.message
    else:
        assert [d.code for d in found] == ["clause-reversed"]


@pytest.mark.parametrize(
    ("channel", "counts", "code"),
    [
        ("0..24 mA", "10922..54612", None),
        ("0..16 mA", "16384..81919", "channel-narrower-than-signal"),
        ("0..30 mA", "8738..43690", "channel-wider-than-signal"),
    ],
)
def test_a_channel_must_take_in_its_signal_and_not_much_more(channel: str, counts: str, code: str | None) -> None:
    """0..24 mA for 4..20 mA is common; counts of 4 and 20 mA from the published table."""
    changes = (("0..20 mA as", f"{channel} as"), ("13107..65535", counts))
    assert _codes(*changes) == ([] if code is None else [code])


def test_nominal_is_what_the_line_says_and_not_the_value_on_lost_echo() -> None:
    """A lost echo at 3.6 mA or 21 mA lies outside on purpose (NE 43)."""
    program = _program(("on lost echo 20 mA", "on lost echo 3.6 mA"))
    assert program.plant is not None
    part = next(p for p in program.plant.assembly.parts if p.name == "LT1")
    assert nominal(part) == (4.0, 20.0)


# ------------------------------------------------------------- broken wires


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ("    stop_ok\n", None),
        ("    not stop_ok\n", "broken-wire-lets-run"),
        ("    stop_ok or start_pb\n", None),
        ("    not stop_ok or start_pb\n", None),
    ],
)
def test_a_stop_is_read_plain_and_in_series(lines: str, code: str | None) -> None:
    """In parallel it is no stop, and nothing is said of it here."""
    found = [c for c in _codes(("    stop_ok\n", lines)) if c.startswith("broken-wire")]
    assert found == ([] if code is None else [code])


def test_a_stop_is_followed_through_memory_tags() -> None:
    """`not stop_ok` two rungs away from the output."""
    changes = (
        ("    distance      memory", "    ready  memory  bool\n    distance      memory"),
        ("    stop_ok\n    => fill", "    ready\n    => fill\n\nrung ready\n    not stop_ok\n    => ready"),
    )
    assert _codes(*changes) == ["broken-wire-lets-run"]


def test_an_input_that_must_be_on_as_well_is_no_danger() -> None:
    """A near miss: the button must have been let go and be pressed again (two-hand control)."""
    changes = (
        ("    distance      memory", "    free  memory  bool\n    distance      memory"),
        (
            "    stop_ok\n    => fill",
            "    stop_ok\n    free\n    => fill\n\nrung free\n    not stop_ok or free\n    => free",
        ),
    )
    assert not [c for c in _codes(*changes) if c.startswith("broken-wire")]


def test_a_trip_on_a_break_contact_is_right() -> None:
    """`not float_ok` puts the trip up, so that a broken wire trips: the trade's rule."""
    changes = (
        ("    distance      memory", "    tripped  memory  bool\n    float_ok  input  bool\n    distance      memory"),
        (
            "    => fill",
            "    not tripped\n    => fill\n\nrung trip\n    not float_ok\n    => set tripped\n\n"
            "rung clear\n    rising start_pb\n    float_ok\n    => reset tripped",
        ),
        ("    relay K1 ", "    float_switch LS3  in t, contact opens on rise at 90 cm\n    relay K1 "),
        ("    stop_ok       at X1:2", "    float_ok  at X1:3  from LS3\n    stop_ok       at X1:2"),
    )
    assert not [c for c in _codes(*changes) if c.startswith("broken-wire")]


# ------------------------------------------------------------------- layers

HAZARD = (
    "    fill          at X4:1\n",
    '    fill          at X4:1\n\nhazard H1 "It overflows" safe state not p.energised\n\n'
    'requirement R1 "A" against H1\n    never fill and not stop_ok\n',
)


def test_a_float_in_the_circuit_is_a_second_layer() -> None:
    """Through relay K1 the float acts without the program: no complaint. Without it, one."""
    assert _codes(HAZARD) == []
    assert _codes(HAZARD, ("        LS1\n", "")) == ["hazard-program-alone"]


def test_what_a_terminal_moves_is_followed_through_relays() -> None:
    """The output drives a relay, whose contact switches the pump: it moves something. A lamp does not."""
    changes = (
        (
            "    supply P24 ",
            "    relay K2  pulls in 20 ms, drops out 20 ms, make contact\n    lamp P1\n    supply P24 ",
        ),
        ("        fill\n", "        K2\n"),
        ("    fill          at X4:1", "    shown  at X4:2  to P1\n    fill  at X4:1  to K2"),
        (
            "    fill          output   bool  on stop off",
            "    fill   output  bool  on stop off\n    shown  output  bool",
        ),
        ("    => fill", "    => fill\n    => shown"),
    )
    plant = _program(*changes).plant
    assert plant is not None
    reach = Reach(plant)
    assert (reach.moves("fill"), reach.moves("shown")) == (True, False)
    cone = reach.cone("p.supply")
    assert set(cone.contacts) == {"K1.1", "K2.1", "LS1.1"}
    assert set(cone.terminals) == {"fill"}


def test_a_second_contact_of_one_button_is_a_shared_device_and_no_shared_contact() -> None:
    """Contact 1 for the program, contact 2 for the circuit: a note says that the device is one."""
    changes = (
        ("push_button S2         break contact", "push_button S2         break contacts 2"),
        ("from S2", "from S2.1"),
        ("        LS1\n", "        LS1\n        S2.2\n"),
    )
    assert _codes(*changes) == ["layers-share"]


# ------------------------------------------------------------ emergency stops

ESTOP = ("push_button S2         break contact", "emergency_stop S2      latching, break contacts 2")
AT_INPUT = ("from S2", "from S2.2")
LAMP = ("    relay K1 ", "    lamp P1\n    relay K1 ")


def _stops(*changes: tuple[str, str]) -> bool:
    return "estop-program-only" not in _codes(*changes)


def test_an_emergency_stop_must_stand_in_the_hardwired_path_of_what_moves() -> None:
    """IEC 60204-1, 9.2 (from memory). Before the pump, or before the relay whose contact is before it: both will do."""
    assert not _stops(ESTOP, AT_INPUT)
    assert _stops(ESTOP, AT_INPUT, ("        K1.1\n", "        S2.1\n        K1.1\n"))
    assert _stops(ESTOP, AT_INPUT, ("        LS1\n", "        LS1\n        S2.1\n"))


def test_a_stop_that_puts_out_a_lamp_only_stops_nothing() -> None:
    """A circuit is not enough: it must lead to something that moves."""
    lit = ("    rung motor\n", "    rung lit\n        S2.1\n        => P1\n    rung motor\n")
    assert not _stops(ESTOP, AT_INPUT, LAMP, lit)


def test_an_emergency_stop_that_nobody_reads_is_told_so() -> None:
    """It is not said to be read by the program then."""
    spare = ("    relay K1 ", "    emergency_stop S9      latching, break contact\n    relay K1 ")
    (found,) = [d for d in understand_texts({"a.rung": _spoilt(spare)}).diagnoses if d.code == "estop-program-only"]
    assert "S9 stops nothing" in found.message


# ------------------------------------------------------------------- channels

CASCADE = (
    (
        "    relay K1 ",
        "    safety_module K8       automatic reset, make contacts 2\n    relay K1 ",
    ),
    (
        "    rung motor\n",
        "    rung third\n        K9.2\n        => K8.channel_1\n"
        "    rung fourth\n        K9.3\n        => K8.channel_2\n"
        "    rung fed_too\n        => K8.supply\n"
        "    rung motor\n        K8.1\n",
    ),
)


def _shared(*changes: tuple[str, str]) -> list[str]:
    """What is said of channels, the contacts that are named."""
    found = understand_texts({"a.rung": _spoilt(*changes)}).diagnoses
    return [d.message.partition("`")[2].partition(":")[0] for d in found if d.code == "channels-share-contact"]


def test_two_contacts_of_one_emergency_stop_are_two_channels() -> None:
    """Common practice, no source: one actuator, two contacts."""
    assert _shared(*TWO_CHANNELS) == []


def test_one_contact_in_both_channels_makes_one_of_two() -> None:
    """Also where it reaches one of them over a point that both share, or over a relay."""
    assert _shared(*TWO_CHANNELS, ("        S3.2\n", "        S3.1\n")) == ["S3.1`"]
    over_a_point = (
        "        S3.1\n        => K9.channel_1\n    rung second_channel\n        S3.2\n",
        "        S3.1\n        => stop_fine\n    rung of_it\n        stop_fine\n        => K9.channel_1\n"
        "    rung second_channel\n        stop_fine\n",
    )
    assert _shared(*TWO_CHANNELS, over_a_point) == ["S3.1`"]
    relay = ("    relay K1 ", "    relay K2 pulls in 20 ms, drops out 20 ms, make contacts 2\n    relay K1 ")
    over_a_relay = (
        "        S3.1\n        => K9.channel_1\n    rung second_channel\n        S3.2\n",
        "        S3.1\n        => K2\n    rung of_it\n        K2.1\n        => K9.channel_1\n"
        "    rung second_channel\n        K2.2\n",
    )
    text = _spoilt(*TWO_CHANNELS)
    found = understand_texts({"a.rung": text.replace(*relay, 1).replace(*over_a_relay)}).diagnoses
    assert [d.message for d in found if d.code == "channels-share-contact"] == [
        "channel_1 and channel_2 of K9 both lead through `S3.1`: two channels that one failure takes together are one."
    ]


def test_channels_fed_by_another_device_with_two_channels_are_two() -> None:
    """K8 behind K9: what opens K9's contacts has come over either of its channels."""
    cascade = _spoilt(*TWO_CHANNELS).replace("make contacts 2\n    relay K1", "make contacts 3\n    relay K1")
    for old, new in CASCADE:
        cascade = cascade.replace(old, new, 1)
    assert "K8.channel_2" in cascade
    codes = {d.code for d in understand_texts({"a.rung": cascade}).diagnoses}
    assert not codes & {"channels-share-contact", "channel-never-opens"}
    joined = cascade.replace("        K9.3\n", "        K9.2\n")
    assert "channels-share-contact" in {d.code for d in understand_texts({"a.rung": joined}).diagnoses}


def test_an_output_may_drive_two_contactors() -> None:
    """Two contactors in series behind one command are no channels of a device."""
    both = ("        LS1\n        => K1\n", "        LS1\n        => K1\n        => K2\n")
    relay = ("    relay K1 ", "    relay K2 pulls in 20 ms, drops out 20 ms, make contact\n    relay K1 ")
    assert _shared(both, relay, ("        K1.1\n", "        K1.1\n        K2.1\n")) == []


# ------------------------------------------------------------------- power-up


@pytest.mark.parametrize(("example", "outputs"), [("press_guard", set()), ("sump_pair", {"pump_1", "pump_2"})])
def test_what_comes_on_at_power_up_in_the_examples(example: str, outputs: set[str]) -> None:
    """The press wants both hands off and then on, which no single scan can see; the sump's floats start its pumps."""
    found = understand(Path(__file__).parents[3] / "examples" / example).diagnoses
    assert {d.message.split("`")[1] for d in found if d.code == "on-at-power-up"} == outputs


def test_a_contact_before_which_the_same_stands_may_feed_two_rungs() -> None:
    """One contact from the rail may feed two rungs; behind different things it joins what is drawn apart."""
    text = SOUND.files["sample.rung"]
    once = text.replace("        K1.1\n        fill\n", "        LS1\n        K1.1\n        fill\n")
    twice = text.replace("        LS1\n        => K1\n", "        LS1\n        K1.1\n        => K1\n")
    assert once != text != twice
    assert "contact-twice" not in {d.code for d in understand_texts({"sample.rung": once}).diagnoses}
    assert "contact-twice" in {d.code for d in understand_texts({"sample.rung": twice}).diagnoses}
