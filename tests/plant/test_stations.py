"""Key switches, dials and two-hand stations."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]


def test_a_key_switch_wants_its_key(run: Runs) -> None:
    """It turns while the key is in, and stays where it is when the key is taken."""
    switch = run("key_switch S7 positions 2")
    switch.env["S7.turned_to"] = 2
    switch.tick()
    assert switch["S7.position"] == 1
    switch.env["S7.key_in"] = True
    switch.tick()
    assert (switch["S7.position"], switch["S7.1"], switch["S7.2"]) == (2, False, True)
    switch.env = {"S7.turned_to": 1}
    switch.tick()
    assert switch["S7.position"] == 2
    switch.env["S7!turns_without_key"] = True
    switch.tick()
    assert switch["S7.position"] == 1


# IEC 60381-1 signals: references.md 3.1 rows for 0, 25, 50, 75, 100 %.
@pytest.mark.parametrize(("percent", "current"), [(0, 4), (25, 8), (50, 12), (75, 16), (100, 20)])
def test_a_dial_is_linear(run: Runs, percent: float, current: float) -> None:
    """Its signal goes from one end to the other in proportion (IEC 60381-1: 4, 8, 12, 16, 20 mA)."""
    dial = run("dial R1 gives 4..20 mA")
    assert dial["R1.signal"] == 4
    dial.env["R1.set_to"] = percent
    dial.tick()
    assert dial["R1.signal"] == pytest.approx(current)


def test_dial_faults(run: Runs) -> None:
    """An open wiper gives nothing at all, a loose knob changes nothing."""
    dial = run("dial R1 gives 2..10 V, starts at 50 %")
    dial.env = {"R1.set_to": 100, "R1!loose": True}
    dial.tick()
    assert dial["R1.signal"] == 6
    dial.env = {"R1!wiper_open": True}
    dial.tick()
    assert dial["R1.signal"] == 0


def test_a_dial_needs_a_signal(part: Callable[..., Part]) -> None:
    """A line without one is refused."""
    with pytest.raises(PartError, match="says nothing of its signal"):
        part("dial R1 starts at 50 %")


STATION = "two_hand_station S5 together within 500 ms"


@pytest.mark.parametrize(("apart_ms", "closes"), [(0, True), (500, True), (510, False), (2000, False)])
@pytest.mark.parametrize("first", ["left", "right"])
def test_both_hands_within_half_a_second(run: Runs, apart_ms: int, closes: bool, first: str) -> None:
    """S9 of ISO 13851 (from memory), at 10 ms: the second button at +0.50 s is in time, at +0.51 s it is not."""
    station = run(STATION, 10)
    station.env[f"S5.{first}"] = True
    station.ticks(apart_ms)
    station.env.update({"S5.left": True, "S5.right": True})
    station.tick()
    assert station["S5.both"] is closes
    assert station["S5.left_button"]
    assert station["S5.right_button"]


@pytest.mark.parametrize("held", ["left", "right"])
def test_either_hand_away_opens_and_both_must_go(run: Runs, held: str) -> None:
    """S9: either released, off; again only after both have been released. Holding one and tapping the other gives
    no second output."""
    station = run(STATION, 10)
    other = "right" if held == "left" else "left"
    station.env = {"S5.left": True, "S5.right": True}
    station.tick()
    assert station["S5.both"]
    for tap in (False, True, False, True):
        station.env = {f"S5.{held}": True, f"S5.{other}": tap}
        station.ticks(100)
        assert not station["S5.both"]
    station.env = {}
    station.tick()
    station.env = {"S5.left": True, "S5.right": True}
    station.tick()
    assert station["S5.both"]


@pytest.mark.parametrize("taped", ["left", "right"])
def test_a_taped_palm_button_starts_nothing(run: Runs, taped: str) -> None:
    """With one button taped down, the other alone never closes the contact."""
    station = run(STATION, 10)
    station.env = {f"S5!{taped}_taped": True}
    station.ticks(1000)
    for hand in (True, False, True):
        station.env[f"S5.{'right' if taped == 'left' else 'left'}"] = hand
        station.ticks(200)
        assert not station["S5.both"]
