"""Motors, fans, presses, valves, dosing, lamps and horns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]


def test_motor_runs_up_and_down(run: Runs) -> None:
    """One time constant brings 63 %, up and down each with its own; a worn brake takes five times as long."""
    motor = run("motor M1 runs up 1 s, runs down 2 s")
    motor.drive["M1.supply"] = True
    motor.ticks(1000)
    assert motor["M1.speed"] == pytest.approx(100 * (1 - 1.005**-200), rel=1e-9)
    motor.ticks(30_000)
    motor.drive["M1.supply"] = False
    motor.ticks(2000)
    assert motor["M1.speed"] == pytest.approx(100 * 1.0025**-400, rel=1e-6)
    assert (motor["M1.energised"], motor["M1.turning"]) == (False, True)
    motor.env["M1!coasts"] = True
    before = motor["M1.speed"]
    motor.ticks(10_000)
    assert motor["M1.speed"] == pytest.approx(before * 1.0005**-2000, rel=1e-6)
    motor.env = {"M1!stalled": True}
    motor.tick()
    assert not motor["M1.turning"]


FAN = "fan F1 runs up 3 s, runs down 8 s, airflow contact closes at 60 %, opens at 40 %"


def test_airflow_proves_the_fan(run: Runs) -> None:
    """The contact closes 3 s x ln(1/0.4) after the start and opens 8 s x ln(1/0.4) after the stop."""
    fan = run(FAN)
    fan.drive["F1.supply"] = True
    assert fan.until(lambda: fan["F1.airflow"], 60_000) / 1000 == pytest.approx(3 * 0.916291, abs=0.02)
    fan.ticks(60_000)
    start = fan.time_ms
    fan.drive["F1.supply"] = False
    assert (fan.until(lambda: not fan["F1.airflow"], 120_000) - start) / 1000 == pytest.approx(8 * 0.916291, abs=0.03)


@pytest.mark.parametrize(("fault", "turning"), [("stalled", False), ("belt_broken", True), ("blocked", True)])
def test_fan_that_fails_to_prove(run: Runs, fault: str, turning: bool) -> None:
    """Supply is no air: with each fault the switch never closes."""
    fan = run(FAN)
    fan.env[f"F1!{fault}"] = True
    fan.drive["F1.supply"] = True
    fan.ticks(30_000)
    assert (fan["F1.energised"], fan["F1.turning"], fan["F1.airflow"]) == (True, turning, False)


def test_press_travels_between_its_end_switches(run: Runs) -> None:
    """Down in 2 s, up in 1 s, with a contact at each end."""
    press = run("press PR1 stroke 300 mm, advances in 2 s, returns in 1 s")
    assert press["PR1.top"]
    press.drive["PR1.valve"] = True
    press.ticks(1000)
    assert press["PR1.position"] == pytest.approx(150)
    assert (press["PR1.top"], press["PR1.bottom"], press["PR1.advancing"]) == (False, False, True)
    assert press.until(lambda: press["PR1.bottom"], 10_000) == pytest.approx(2000, abs=5)
    assert press["PR1.moving"]
    press.tick()
    assert not press["PR1.moving"]
    start = press.time_ms
    press.drive["PR1.valve"] = False
    assert press.until(lambda: press["PR1.top"], 10_000) - start == pytest.approx(1000, abs=5)


def test_press_faults(run: Runs) -> None:
    """A stuck valve goes on, a sinking ram needs none, a seized ram stands."""
    press = run("press PR1 stroke 300 mm, advances in 2 s, returns in 1 s")
    press.drive["PR1.valve"] = True
    press.ticks(500)
    press.drive["PR1.valve"] = False
    press.env["PR1!valve_stuck"] = True
    press.tick()
    assert (press["PR1.energised"], press["PR1.advancing"]) == (False, True)
    press.env = {"PR1!seized": True}
    press.tick()
    assert not press["PR1.moving"]
    press.env = {"PR1!sinks": True}
    press.tick()
    assert press["PR1.advancing"]


def test_valve_travel_and_end_switches(run: Runs) -> None:
    """Opens in 1 s, closes in 2 s; the flow is in proportion; the spring decides without the coil."""
    valve = run(
        """
        tank pot  rectangular, length 1 m, width 1 m, height 1 m
        valve V1  into pot, flow 60 L/min, opens in 1 s, closes in 2 s
        """
    )
    assert (valve["V1.open"], valve["V1.closed"]) == (False, True)
    valve.drive["V1.coil"] = True
    valve.ticks(500)
    assert valve["V1.position"] == pytest.approx(50)
    assert valve["V1.flow"] == pytest.approx(30)
    valve.ticks(510)
    assert (valve["V1.open"], valve["V1.closed"]) == (True, False)
    valve.env["V1!coil_open"] = True
    valve.ticks(1000)
    assert (valve["V1.energised"], valve["V1.position"]) == (True, pytest.approx(50))
    valve.env = {"V1!stuck": True}
    valve.ticks(1000)
    assert valve["V1.position"] == pytest.approx(50)
    valve.env = {"V1!leaking": True}
    valve.drive["V1.coil"] = False
    valve.ticks(2000)
    assert valve["V1.flow"] == pytest.approx(3)


def test_normally_open_valve(run: Runs) -> None:
    """It stands open without its coil."""
    valve = run(
        "tank pot rectangular, length 1 m, width 1 m, height 1 m\nvalve V1 into pot, flow 60 L/min, normally open"
    )
    valve.tick()
    assert valve["V1.flow"] == pytest.approx(60)
    valve.drive["V1.coil"] = True
    valve.tick()
    assert valve["V1.flow"] == 0


DOSING = """
    reservoir canister  holds 25 L, additive 120 g/L
    tank vat            rectangular, length 1 m, width 1 m, height 1 m, starts at 100 L, additive 0 g/L
    dosing_pump D1      from canister into vat, {how}
"""


def test_dosing_by_strokes(run: Runs) -> None:
    """Each rising edge moves one stroke of 5 mL with its 0.6 g; a held signal moves no more."""
    dosing = run(DOSING.format(how="stroke 5 mL"))
    for bit in "0110111010":
        dosing.drive["D1.stroke"] = bit == "1"
        dosing.tick()
    assert dosing["vat.additive"] == pytest.approx(3 * 0.6)
    assert dosing["vat.volume"] == pytest.approx(100.015)


def test_continuous_dosing(run: Runs) -> None:
    """200 mL/min of 120 g/L for a minute is 24 g; airlocked it is none, overdosing it is twice that."""
    for fault, grams in (("", 24.0), ("airlocked", 0.0), ("stalled", 0.0), ("overdoses", 48.0)):
        dosing = run(DOSING.format(how="doses 200 mL/min"), 50)
        dosing.drive["D1.supply"] = True
        dosing.env = {f"D1!{fault}": True} if fault else {}
        dosing.ticks(60_000)
        assert dosing["vat.additive"] == pytest.approx(grams)
        assert dosing["vat.concentration"] == pytest.approx(grams / dosing["vat.volume"])
        assert dosing["D1.energised"]


@pytest.mark.parametrize(("kind", "shown", "fault"), [("lamp", "lit", "burnt_out"), ("horn", "sounding", "silent")])
def test_signals(run: Runs, kind: str, shown: str, fault: str) -> None:
    """A lamp lights and a horn sounds while supplied, unless it has failed."""
    signal = run(f"{kind} H1")
    signal.drive["H1.supply"] = True
    signal.tick()
    assert signal[f"H1.{shown}"]
    signal.env[f"H1!{fault}"] = True
    signal.tick()
    assert not signal[f"H1.{shown}"]


def test_recorded_demand(run: Runs) -> None:
    """Each hourly value holds for its hour, and the row starts over at its end."""
    demand = run(
        """
        reservoir mains  holds 100000 L
        demand street    from mains, hourly 2 1 4 L/min
        """,
        60_000,
    )
    flows = []
    for _ in range(5):
        demand.ticks(3_600_000)
        flows.append(demand["street.flow"])
    assert flows == pytest.approx([2, 1, 4, 2, 1])
    assert demand.assembly.total(demand.state) == pytest.approx(100000)


@pytest.mark.parametrize(
    ("line", "slot"),
    [
        ("tank t", "upright"),
        ("tank t upright cylinder, diameter 60 cm", "height"),
        ("tank t upright cylinder, lying cylinder", "lying"),
        ("tank t upright cylinder, diameter 60 cm, height 1 m, length 1 m", "length"),
        ("tank t rectangular, length 1 m, width 1 m, height 1 m, ellipsoidal ends", "ellipsoidal_ends"),
        ("tank t upright cylinder, diameter 60 cm, height 110 cm, starts at 400 L", "start"),
        ("tank t upright cylinder, diameter 60 cm, height 110 cm, starts at 120 cm", "start_level"),
        ("tank t upright cylinder, diameter 0 cm, height 110 cm", "diameter"),
        ("tank t lying cylinder, diameter 10 m, length 1 mm, ellipsoidal ends", "length"),
        ("tank t upright cylinder, diameter 60 cm, height 1 m, starts at 10 L, starts at 20 cm", "start_level"),
        ("reservoir r holds 10 L, starts at 11 L", "start"),
        ("reservoir r holds 10 L, starts at -1 L", "start"),
        ("reservoir r holds 10 L, additive 2000 g/L", "additive"),
        ("pump P1 from a, 0..12 L/min, deadband 11 V", "deadband"),
        ("pump P1 from a, -2..12 L/min", "capacity"),
        ("demand d from a", "range"),
        ("demand d from a, 0..5 L/min, hourly 1 2 L/min", "hourly"),
        ("demand d from a, hourly 1 -2 L/min", "hourly"),
        ("outlet o from a, orifice 8 mm, opening 0..50 %, opening 40 %", "opening"),
        ("pump P1 0..12 L/min", "source"),
        ("pump P1 from a into a, 0..12 L/min", "destination"),
        ("outlet o into a, orifice 8 mm", "source"),
        ("outlet o from a, orifice 8 mm, opening 0..120 %", "openings"),
        ("dosing_pump D1 from a into b", "rate"),
        ("fan F1 airflow contact closes at 40 %, opens at 60 %", "opens_at"),
        ("siphon s from a, bore 25 mm, inlet at 60 cm, crest at 50 cm, discharges 1 m below", "crest"),
    ],
)
def test_parts_that_cannot_be(part: Callable[..., Part], line: str, slot: str) -> None:
    """A line that makes no such part is refused at the clause at fault."""
    with pytest.raises(PartError) as refused:
        part(line)
    assert refused.value.slot == slot
    assert str(refused.value)
