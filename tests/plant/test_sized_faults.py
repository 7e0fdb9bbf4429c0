"""Faults with a size or a course of their own: how late, how far off, how fast."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

Runs = Callable[..., Any]

TANK = "tank header upright cylinder, diameter 60 cm, height 110 cm, starts at {start} cm\n"
FLOAT = TANK + "float_switch LS1 in header, contact opens on rise at 95 cm, closes on fall at 92 cm"
TRANSMITTER = TANK + "level_transmitter LT1 above header at 135 cm, sees 25 cm..125 cm as {signal}"
PUMP = TANK + "pump P1 into header, 0..12 L/min, lag 0.4 s"


def _changes(bits: list[bool]) -> int:
    return sum(a != b for a, b in pairwise(bits))


def test_a_float_with_weed_follows_ten_seconds_late(run: Runs) -> None:
    """It stands where it stood until the level has been on the other side for ten seconds."""
    late = run(FLOAT.format(start=90))
    late.env = {"LS1!late": True}
    late.state["header.volume"] = 300.0
    late.ticks(9_990)
    assert late["LS1.up"] is False
    late.ticks(20)
    assert late["LS1.up"] is True


def test_a_float_dances_between_its_switching_points_only(run: Runs) -> None:
    """Five changes a second between 92 and 95 cm, and none elsewhere."""
    for level, changes in ((93.5, 5), (80.0, 0), (100.0, 0)):
        dancing = run(FLOAT.format(start=level))
        dancing.env = {"LS1!bouncing": True}
        dancing.ticks(500)
        seen = []
        for _ in range(200):
            dancing.tick()
            seen.append(dancing["LS1.up"])
        assert abs(_changes(seen) - changes) <= (1 if changes else 0)


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ("fails_low", 0.0),
        ("fails_high", 10.0),
        ("multiple_echo", 10.0),
        ("wrong_temperature", (85 * math.sqrt(323.15 / 293.15) - 25) / 10),
    ],
)
def test_a_transmitter_fails_by_so_much(run: Runs, fault: str, expected: float) -> None:
    """At a level of 50 cm it should see 85 cm, 6 V; 30 K too warm makes the distance sqrt(323.15/293.15) as long."""
    failed = run(TRANSMITTER.format(start=50, signal="0..10 V"))
    assert failed["LT1.signal"] == pytest.approx(6.0)
    failed.env = {f"LT1!{fault}": True}
    failed.tick()
    assert failed["LT1.signal"] == pytest.approx(expected)


@pytest.mark.parametrize(("fault", "low", "high"), [("fails_low", 0.0, 3.6), ("fails_high", 21.0, 24.0)])
def test_a_current_loop_fails_inside_the_bands_of_ne_43(run: Runs, fault: str, low: float, high: float) -> None:
    """NAMUR NE 43: failure information at 3.6 mA or less, 21 mA or more (from a secondary page)."""
    failed = run(TRANSMITTER.format(start=50, signal="4..20 mA"))
    failed.env = {f"LT1!{fault}": True}
    failed.tick()
    assert low <= failed["LT1.signal"] <= high


def test_a_wet_face_sees_nothing_near(run: Runs) -> None:
    """With drops on its face there is no echo from nearer than half its range; farther off it sees as before."""
    for level, echo in ((80.0, False), (30.0, True)):
        blanked = run(TRANSMITTER.format(start=level, signal="0..10 V, on lost echo 10 V"))
        blanked.env = {"LT1!blanked": True}
        blanked.tick()
        assert blanked["LT1.echo"] is echo


def test_a_drive_that_runs_on_ignores_a_falling_signal(run: Runs) -> None:
    """It keeps its speed when the signal goes, and stops when its supply goes."""
    drive = run(PUMP.format(start=10))
    drive.drive |= {"P1.supply": True, "P1.speed": 5.0}
    drive.ticks(5000)
    drive.env = {"P1!runs_on": True}
    drive.drive["P1.speed"] = 0.0
    drive.ticks(5000)
    assert drive["P1.flow"] == pytest.approx(6.0, rel=1e-3)
    drive.drive["P1.supply"] = False
    drive.ticks(5000)
    assert drive["P1.flow"] == pytest.approx(0.0, abs=1e-3)


def test_a_bouncing_button_closes_several_times(run: Runs) -> None:
    """Pressed once, its contact closes more than once within 20 ms, and then stands."""
    button = run("push_button S1 make contact")
    button.env = {"S1!bouncing": True, "S1.pressed": True}
    seen = [False]
    for _ in range(12):
        button.tick()
        seen.append(button["S1.operated"])
    assert _changes(seen[:6]) > 2
    assert all(seen[6:])


def test_a_hammered_button_comes_and_goes_five_times_a_second(run: Runs) -> None:
    """Nobody else touches it."""
    button = run("push_button S1 make contact")
    button.env = {"S1!hammered": True}
    seen = []
    for _ in range(400):
        button.tick()
        seen.append(button["S1.operated"])
    assert abs(_changes(seen) - 20) <= 1


def test_a_slow_valve_takes_five_times_as_long(run: Runs) -> None:
    """One that opens in 1 s stands at a fifth after a second."""
    valve = run(TANK.format(start=50) + "valve V1 into header, flow 20 L/min, opens in 1 s, closes in 1 s")
    valve.env = {"V1!slow": True}
    valve.drive["V1.coil"] = True
    valve.ticks(1000)
    assert valve["V1.position"] == pytest.approx(20.0, abs=0.2)
