"""Flow switches and flow meters."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.assembly import Assembly, AssemblyError
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]

PIPE = """
    reservoir cistern  holds 2000 L, starts at 1500 L
    demand user        from cistern, 0..20 L/min
"""


def test_flow_switch_hysteresis(run: Runs) -> None:
    """Lifts at 3, falls at 2 L/min; what happens in between it remembers."""
    pipe = run(PIPE + "flow_switch FS1 behind user, lifts at 3 L/min, falls at 2 L/min, make contact, break contact")
    shown = []
    for flow in (2.5, 3.1, 2.5, 1.9, 2.5, 20, 0):
        pipe.env["user.demand"] = flow
        pipe.ticks(20)
        shown.append(pipe["FS1.1"])
    assert shown == [False, True, True, False, False, True, False]
    assert pipe["FS1.2"]


def test_flow_switch_waits(run: Runs) -> None:
    """`after` is the time that the flow must stand on the other side; a dip starts it anew."""
    pipe = run(PIPE + "flow_switch FS1 behind user, lifts at 3 L/min, after 500 ms, make contact", 10)
    pipe.env["user.demand"] = 10
    pipe.ticks(400)
    pipe.env["user.demand"] = 0
    pipe.ticks(20)
    pipe.env["user.demand"] = 10
    start = pipe.time_ms
    assert pipe.until(lambda: pipe["FS1.lifted"], 5000) - start == pytest.approx(500, abs=20)


def test_flow_switch_faults(run: Runs) -> None:
    """A paddle that hangs shows its position, whatever flows."""
    pipe = run(PIPE + "flow_switch FS1 behind user, lifts at 3 L/min, make contact")
    pipe.env = {"FS1!stuck_lifted": True}
    pipe.tick()
    assert pipe["FS1.1"]
    pipe.env = {"FS1!stuck_fallen": True, "user.demand": 20}
    pipe.ticks(100)
    assert not pipe["FS1.1"]


METER = PIPE + "flow_meter FT1 behind user, reads 0..20 L/min as 4..20 mA, lag 1 s, pulse 500 mL"


def test_flow_meter_follows_with_its_lag(run: Runs) -> None:
    """A step of 10 L/min is at 1 - 1/e of its 8 mA after one lag (first order, exact to the tick)."""
    pipe = run(METER, 1)
    pipe.env["user.demand"] = 10
    pipe.ticks(1000)
    assert pipe["FT1.signal"] == pytest.approx(4 + 8 * (1 - math.exp(-1)), abs=0.01)
    pipe.ticks(20_000)
    assert pipe["FT1.signal"] == pytest.approx(12)


def test_flow_meter_agrees_with_the_control_library(run: Runs) -> None:
    """The response to a ramp is that of 1/(s + 1) as the library `control` gives it."""
    import control
    import numpy as np

    times = np.linspace(0, 5, 5001)
    expected = control.forced_response(control.tf([1], [1, 1]), times, 2 * times).outputs
    pipe = run(METER, 1)
    seen = []
    for time in times[:-1]:
        pipe.env["user.demand"] = 2 * float(time)
        pipe.tick()
        seen.append(pipe["FT1.seen"])
    assert seen[999:] == pytest.approx(list(expected[1000:]), abs=0.006)


def test_flow_meter_counts_litres(run: Runs) -> None:
    """10 L/min for a minute are 20 pulses of half a litre."""
    pipe = run(METER)
    pipe.env["user.demand"] = 10
    pulses, before = 0, False
    for _ in range(60_000 // 5 + 1):
        pipe.tick()
        pulses += pipe["FT1.pulse"] and not before
        before = pipe["FT1.pulse"]
    assert pulses == 20


def test_flow_meter_faults(run: Runs) -> None:
    """Reading nothing, frozen, a tenth too much."""
    for fault, signal in (("reads_zero", 4.0), ("frozen", 4.0), ("drifting", 12.8)):
        pipe = run(METER, 50)
        pipe.env = {"user.demand": 10, f"FT1!{fault}": True}
        pipe.ticks(30_000)
        assert pipe["FT1.signal"] == pytest.approx(signal)


def test_a_flow_in_percent_is_no_flow_of_liquid(plant: Callable[..., Assembly]) -> None:
    """A fan's flow is in percent: a switch in litres a minute cannot look at it."""
    with pytest.raises(AssemblyError, match=r"reads `F1\.flow` in L/min, and fan `F1` shows it in %"):
        plant("fan F1 runs up 1 s\nflow_switch FS1 behind F1, lifts at 3 L/min, make contact")


def test_what_flow_parts_refuse(part: Callable[..., Part]) -> None:
    """A paddle that falls above where it lifts; a meter that reads nothing."""
    with pytest.raises(PartError, match="above the 3 L/min where it lifts"):
        part("flow_switch FS1 behind user, lifts at 3 L/min, falls at 4 L/min, make contact")
    with pytest.raises(PartError, match="says nothing of what it reads"):
        part("flow_meter FT1 behind user, lag 1 s")
