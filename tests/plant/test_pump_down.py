"""On/off control by level: the pump-down cycle, and a published network's tank."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

SUMP = """
    tank sump         rectangular, length 1 m, width 1 m, height 1 m, starts at 20 cm
    float_switch LS1  in sump, contact closes on rise at 40 cm, opens on fall at 20 cm
    pump P1           from sump, 0..120 L/min, fixed speed
    demand out        from sump, 0..1 L/min
    pump inflow       into sump, 0..120 L/min
"""


# Source: MIL-HDBK-1005/9A eq. 1-2 and UFC 3-240-04A; V = 0.2 m3, D = 2 L/s.
@pytest.mark.parametrize(
    ("litres_per_s", "on_s", "off_s"), [(0.2, 111.11, 1000), (0.5, 133.33, 400), (1.0, 200, 200), (1.8, 1000, 111.11)]
)
def test_cycle_time(run: Callable[..., Any], litres_per_s: float, on_s: float, off_s: float) -> None:
    """The pump runs V/(D - Q) and rests V/Q, with the float's contact straight in its supply."""
    sump = run(SUMP, 100)
    sump.drive |= {"inflow.supply": True, "inflow.speed": 10 * litres_per_s / 2}
    changes: list[int] = []
    while len(changes) < 3:
        before = sump["LS1.1"]
        sump.drive["P1.supply"] = before
        sump.tick()
        if sump["LS1.1"] != before:
            changes.append(sump.time_ms)
        assert sump.time_ms < 10**7
    assert (changes[1] - changes[0]) / 1000 == pytest.approx(on_s, rel=0.003)
    assert (changes[2] - changes[1]) / 1000 == pytest.approx(off_s, rel=0.003)


def test_overshoot_past_a_switch_level(run: Callable[..., Any]) -> None:
    """The level passes the switching point by no more than net flow x delay / area."""
    sump = run(SUMP, 100)
    sump.drive |= {"inflow.supply": True, "inflow.speed": 5.0}
    sump.until(lambda: sump["LS1.1"], 10**7)
    assert 40 <= sump["sump.level"] <= 40 + 2 * 1.0 * 0.1 / 10
