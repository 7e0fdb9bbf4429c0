"""Switches, relays and their contacts: timing, hysteresis, latching, faults."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.plant.float_switch import FloatSwitch
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]


def _rows(run: Any, driven: str, pattern: str, shown: str) -> str:
    """The bit shown after each tick, for the bit driven in it."""
    bits = ""
    for bit in pattern:
        run.drive[driven] = bit == "1"
        run.tick()
        bits += "01"[run[shown]]
    return bits


# Hand-worked; ticks of 5 ms, pull-in 4 ticks, drop-out 6 ticks. Source of the terms: IEC 61810-1 (from memory).
@pytest.mark.parametrize(
    ("coil", "contact"),
    [
        ("1111100000000", "0001111111000"),
        ("1110111100000", "0000000111111"),
        ("1111000001000000", "0001111111111110"),
        ("0000000", "0000000"),
    ],
)
def test_relay_timing(run: Runs, coil: str, contact: str) -> None:
    """The armature moves at the end of the tick that completes its time; a change back starts it anew."""
    relay = run("relay K1 pulls in 20 ms, drops out 30 ms, make contact, break contact")
    shown = _rows(relay, "K1.coil", coil, "K1.1")
    assert shown == contact
    assert relay["K1.2"] is not relay["K1.1"]


def test_relay_without_times_moves_at_the_next_tick(run: Runs) -> None:
    """No relay moves within the tick: its contact shows the coil one tick late."""
    relay = run("relay K1 make contact")
    assert _rows(relay, "K1.coil", "10110", "K1.1") == "10110"
    assert not run("relay K1 make contact")["K1.1"]


def test_relay_faults(run: Runs) -> None:
    """A broken coil never pulls in, a stuck armature never drops out, a slow one takes five times as long."""
    relay = run("relay K1 pulls in 20 ms, drops out 30 ms, make contact")
    relay.env["K1!coil_open"] = True
    assert _rows(relay, "K1.coil", "1" * 20, "K1.1") == "0" * 20
    relay.env = {"K1!slow": True}
    assert _rows(relay, "K1.coil", "1" * 20, "K1.1") == "0" * 19 + "1"
    relay.env = {"K1!sticks": True}
    assert _rows(relay, "K1.coil", "0" * 20, "K1.1") == "1" * 20


def test_relay_times_are_whole_ticks(part: Callable[..., Part]) -> None:
    """A time between two ticks is refused, with the nearest that would do."""
    with pytest.raises(PartError, match="22 ms is not a whole number of plant ticks of 5 ms") as refused:
        part("relay K1 pulls in 22 ms, make contact")
    assert (refused.value.slot, refused.value.mend) == ("pulls_in", "write 20 ms, or give the plant a shorter tick")


def test_contact_faults(run: Runs) -> None:
    """Every contact can weld or stay open; open wins over welded; the other contacts do not mind."""
    relay = run("relay K1 make contacts 2, break contact")
    relay.env["K1.1!welded"] = True
    assert (relay["K1.1"], relay["K1.2"], relay["K1.3"]) == (True, False, True)
    relay.env["K1.1!stays_open"] = True
    relay.env["K1.3!stays_open"] = True
    assert (relay["K1.1"], relay["K1.2"], relay["K1.3"]) == (False, False, False)


def test_contactor_mirrors_its_welded_main_contact(run: Runs) -> None:
    """While a welded main contact holds the armature in, the break auxiliary stays open (IEC 60947-4-1 Annex F)."""
    contactor = run("contactor Q1 pulls in 30 ms, drops out 20 ms, make contact, break contact")
    contactor.drive["Q1.coil"] = True
    contactor.ticks(30)
    assert (contactor["Q1.main"], contactor["Q1.1"], contactor["Q1.2"]) == (True, True, False)
    contactor.env["Q1!sticks"] = True
    contactor.drive["Q1.coil"] = False
    contactor.ticks(1000)
    assert (contactor["Q1.main"], contactor["Q1.1"], contactor["Q1.2"]) == (True, True, False)


FLOAT = """
    tank header       rectangular, length 10 cm, width 10 cm, height 110 cm, starts at {level} cm
    float_switch LS1  in header, contact opens on rise at 95 cm, closes on fall at 92 cm
"""


@given(st.lists(st.one_of(st.sampled_from([92.0, 95.0]), st.floats(80, 110)), min_size=1, max_size=30))
def test_float_hysteresis(levels: list[float]) -> None:
    """The float is up since the level last stood at 95 cm or above without having been at 92 cm or below since."""
    float_switch = FloatSwitch("LS1", {"vessel": "header", "opens_on_rise": 95.0, "closes_on_fall": 92.0}, 5)
    state: dict[str, Any] = {"up": False, "late_ms": 0, "dance_ms": 0}
    healthy = dict.fromkeys((fault.name for fault in float_switch.faults), False)
    expected = False
    for level in levels:
        state = float_switch.step(PLAIN, state, {"level": level}, healthy)
        expected = True if level >= 95 else False if level <= 92 else expected
        assert state["up"] is expected
        assert float_switch.closed(PLAIN, state, float_switch.contacts[0]) is not expected


@pytest.mark.parametrize(("level", "up"), [(94.9, False), (95, True), (110, True)])
def test_float_at_time_0(run: Runs, level: float, up: bool) -> None:
    """A float in a full tank starts up: a scan at time 0 reads it so."""
    assert run(FLOAT.format(level=level))["LS1.up"] is up


def test_float_faults(run: Runs) -> None:
    """A float that hangs shows its position, whatever the level."""
    full = run(FLOAT.format(level=100))
    full.env["LS1!stuck_down"] = True
    full.tick()
    assert (full["LS1.up"], full["LS1.1"]) == (False, True)
    empty = run(FLOAT.format(level=10))
    empty.env["LS1!stuck_up"] = True
    empty.tick()
    assert (empty["LS1.up"], empty["LS1.1"]) == (True, False)


def test_level_probe(run: Runs) -> None:
    """The probe's contact is made while the liquid touches it."""
    for level, wet in ((49, False), (50, True)):
        probe = run(
            f"""
            tank sump       rectangular, length 10 cm, width 10 cm, height 1 m, starts at {level} cm
            level_probe B1  in sump at 50 cm, make contact, break contact
            """
        )
        assert (probe["B1.1"], probe["B1.2"]) == (wet, not wet)
        probe.env = {"B1!fouled": True}
        probe.tick()
        assert not probe["B1.1"]
        probe.env = {"B1!bridged": True}
        probe.tick()
        assert probe["B1.1"]


def test_push_button(run: Runs) -> None:
    """Contacts follow the hand one tick later; numbered in the order of the clauses."""
    button = run("push_button S1 make contact, break contacts 2")
    assert [button[f"S1.{k}"] for k in (1, 2, 3)] == [False, True, True]
    button.env["S1.pressed"] = True
    assert not button["S1.1"]
    button.tick()
    assert [button[f"S1.{k}"] for k in (1, 2, 3)] == [True, False, False]
    button.env["S1.pressed"] = False
    button.tick()
    assert not button["S1.operated"]


def test_push_button_faults(run: Runs) -> None:
    """Taped is pressed, jammed stays once pressed, seized cannot be pressed."""
    button = run("push_button S1 make contact")
    button.env = {"S1!seized": True, "S1.pressed": True}
    button.tick()
    assert not button["S1.1"]
    button.env = {"S1!jammed": True}
    button.tick()
    assert not button["S1.1"]
    button.env["S1.pressed"] = True
    button.tick()
    button.env["S1.pressed"] = False
    button.tick()
    assert button["S1.1"]
    button.env = {"S1!taped": True}
    button.tick()
    assert button["S1.1"]


def test_emergency_stop(run: Runs) -> None:
    """Operated while latched in; let out by hand; its contacts break (ISO 13850, from memory)."""
    stop = run("emergency_stop S0 latching, break contacts 2")
    assert stop["S0.1"] and stop["S0.2"]
    stop.env["S0.pressed"] = True
    stop.ticks(10_000)
    assert not stop["S0.1"] and not stop["S0.2"]
    stop.env["S0!stays_in"] = True
    stop.env["S0.pressed"] = False
    stop.tick()
    assert not stop["S0.1"]
    del stop.env["S0!stays_in"]
    stop.tick()
    assert stop["S0.1"]


def test_guard_switch(run: Runs) -> None:
    """The contact follows the guard; a spare actuator defeats it."""
    guard = run("guard_switch G1 make contact")
    guard.env["G1.closed"] = True
    guard.tick()
    assert guard["G1.1"]
    guard.env["G1.closed"] = False
    guard.tick()
    assert not guard["G1.1"]
    guard.env["G1!defeated"] = True
    guard.tick()
    assert guard["G1.1"]


def test_selector(run: Runs) -> None:
    """Exactly the contact of the position is closed; between positions none is."""
    selector = run("selector S4 positions 3")
    for position in (1, 2, 3):
        selector.env["S4.turned_to"] = position
        selector.tick()
        assert [selector[f"S4.{k}"] for k in (1, 2, 3)] == [k == position for k in (1, 2, 3)]
    selector.env["S4!between"] = True
    selector.tick()
    assert not any(selector[f"S4.{k}"] for k in (1, 2, 3))


def test_supply_is_lost_at_once(run: Runs) -> None:
    """A lost supply is dead at the instant of the fault, not a tick later."""
    supply = run("supply P24 24 V")
    assert supply["P24.live"]
    supply.env["P24!lost"] = True
    assert not supply["P24.live"]


@pytest.mark.parametrize(
    ("line", "slot"),
    [
        ("push_button S1", "make_contact"),
        ("push_button S1 make contacts 0", "make_contacts"),
        ("selector S4 positions 1", "positions"),
        ("float_switch LS1 in header", "opens_on_rise"),
        ("float_switch LS1 in header, contact opens on rise at 92 cm, closes on fall at 95 cm", "closes_on_fall"),
        ("float_switch LS1 in header, contact opens on rise at 92 cm, opens on fall at 90 cm", "opens_on_fall"),
    ],
)
def test_switches_that_cannot_be(part: Callable[..., Part], line: str, slot: str) -> None:
    """A line that makes no such switch is refused at the clause at fault."""
    with pytest.raises(PartError) as refused:
        part(line)
    assert refused.value.slot == slot
