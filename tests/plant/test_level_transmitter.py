"""The ultrasonic transmitter: distance, sound, sampling, blanking, faults."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import fluids
import pytest
from rungproof.plant.part import PartError

Runs = Callable[..., Any]

TANK = "tank header upright cylinder, diameter 60 cm, height 250 cm, starts at {level} cm\n"


def _above(run: Runs, line: str, level: float = 0, dt_ms: int = 5) -> Any:
    return run(TANK.format(level=level) + "level_transmitter LT1 above header at " + line, dt_ms)


@pytest.mark.parametrize(("level", "volts"), [(10, 10), (35, 7.5), (60, 5), (85, 2.5), (110, 0)])
def test_distance_to_signal(run: Runs, level: float, volts: float) -> None:
    """From 135 cm up, 25..125 cm give 0..10 V, already at time 0."""
    seen = _above(run, "135 cm, sees 25 cm..125 cm as 0..10 V", level)
    assert seen["LT1.signal"] == pytest.approx(volts, abs=1e-9)
    seen.tick()
    assert seen["LT1.signal"] == pytest.approx(volts, abs=1e-9)


@pytest.mark.parametrize(("level", "milliamps"), [(0, 20), (50, 16), (100, 12), (150, 8), (200, 4)])
def test_current_signal(run: Runs, level: float, milliamps: float) -> None:
    """4..20 mA in quarters (IEC 60381-1)."""
    seen = _above(run, "225 cm, sees 25 cm..225 cm as 4..20 mA", level)
    assert seen["LT1.signal"] == pytest.approx(milliamps, abs=1e-9)


@pytest.mark.parametrize(("level", "milliamps"), [(0, 4), (50, 8), (100, 12), (150, 16), (200, 20), (210, 20)])
def test_a_current_that_rises_with_the_level(run: Runs, level: float, milliamps: float) -> None:
    """4 mA where the tank is empty and 20 mA where it is full: live zero at the bottom (IEC 60381-1; the way round is
    common practice, no source). Beyond its range the signal stands at the end."""
    seen = _above(run, "225 cm, sees 25 cm..225 cm as 4..20 mA, rises with level", level)
    assert seen["LT1.signal"] == pytest.approx(milliamps, abs=1e-9)
    seen.tick()
    assert seen["LT1.signal"] == pytest.approx(milliamps, abs=1e-9)


# Source: ISO 9613-1 reference speed, c = 343.2 sqrt(T/293.15) m/s.
@pytest.mark.parametrize(("celsius", "metres"), [(0, 2.07193), (10, 2.03501), (20, 2.0), (30, 1.96674), (40, 1.93508)])
def test_two_metres_in_warm_and_cold_air(run: Runs, celsius: float, metres: float) -> None:
    """A device that takes sound to travel as at 20 degC reads a true 2.000 m as this."""
    seen = _above(run, "2 m, sees 0 m..5 m as 0..10 V, air -20..60 degC")
    seen.env["LT1.temperature"] = float(celsius)
    seen.tick()
    assert seen["LT1.signal"] / 2 == pytest.approx(metres, abs=1e-5)


@pytest.mark.parametrize("celsius", [-20, 0, 15, 20, 30, 40])
def test_sound_against_the_standard_atmosphere(run: Runs, celsius: float) -> None:
    """The speed behind the reading is within 0.3 % of the US Standard Atmosphere 1976 formula."""
    seen = _above(run, "2 m, sees 0 m..5 m as 0..10 V, air -20..60 degC")
    seen.env["LT1.temperature"] = float(celsius)
    seen.tick()
    speed = 343.2 * 2 / (seen["LT1.signal"] / 2)
    assert speed == pytest.approx(fluids.ATMOSPHERE_1976.sonic_velocity(celsius + 273.15), rel=0.003)
    assert speed == pytest.approx(331.45 * math.sqrt(1 + celsius / 273.15), rel=0.003)


def test_warm_air_reads_high(run: Runs) -> None:
    """One kelvin more at 2 m: the level reads 3.4 mm high."""
    seen = _above(run, "2 m, sees 0 m..5 m as 0..10 V, air 0..40 degC")
    seen.env["LT1.temperature"] = 21.0
    seen.tick()
    assert 2000 - seen["LT1.signal"] * 500 == pytest.approx(3.4, abs=0.05)


def test_compensated_transmitter_does_not_mind(run: Runs) -> None:
    """With compensation the temperature is no input at all."""
    seen = _above(run, "2 m, sees 0 m..5 m as 0..10 V, air 0..40 degC, compensated")
    assert "LT1.temperature" not in seen.assembly.environment


def test_blanking(run: Runs) -> None:
    """Mounted at 2.5 m with 0.3 m blanking, levels above 2.2 m give no echo."""
    for level, echo in ((219.9, True), (220.1, False)):
        seen = _above(run, "250 cm, sees 30 cm..250 cm as 0..10 V, blanking 30 cm, on lost echo 10 V", level)
        seen.tick()
        assert seen["LT1.echo"] is echo
        assert seen["LT1.signal"] == pytest.approx(10 if not echo else 10 * 0.1 / 220, abs=1e-3)


def test_sample_and_hold(run: Runs) -> None:
    """Every 100 ms it measures once, and holds in between."""
    seen = run(
        """
        tank header            rectangular, length 10 cm, width 10 cm, height 1 m
        pump mains             into header, 0..60 L/min
        level_transmitter LT1  above header at 1 m, sees 0 cm..100 cm as 0..10 V, every 100 ms
        """
    )
    seen.drive |= {"mains.supply": True, "mains.speed": 10.0}
    signals = []
    for _ in range(60):
        seen.tick()
        signals.append(seen["LT1.signal"])
    changes = [k for k in range(1, 60) if signals[k] != signals[k - 1]]
    assert changes == [20, 40]


def test_noise_is_a_share_of_the_draw(run: Runs) -> None:
    """A draw of +1 moves the reading by the noise's full 2 mm, one of -1 the other way, one draw a measurement."""
    seen = _above(run, "135 cm, sees 25 cm..125 cm as 0..10 V, noise 2 mm, every 100 ms", 60)
    assert seen.assembly.environment["LT1~noise"].every_ms == 100
    for draw, volts in ((1.0, 5.02), (-1.0, 4.98), (0.0, 5.0)):
        seen.env["LT1~noise"] = draw
        seen.ticks(100)
        assert seen["LT1.signal"] == pytest.approx(volts)


def test_lost_echo_goes_to_its_value_or_stays(run: Runs) -> None:
    """`on lost echo 10 V` says where the signal goes; without it the signal stays where it was."""
    for clause, volts in ((", on lost echo 10 V", 10), ("", 5)):
        seen = _above(run, "135 cm, sees 25 cm..125 cm as 0..10 V" + clause, 60)
        seen.env["LT1!echo_lost"] = True
        seen.ticks(100)
        assert seen["LT1.signal"] == pytest.approx(volts)
        assert not seen["LT1.echo"]


def test_faults_of_the_transmitter(run: Runs) -> None:
    """Frozen holds, a false echo reads full, drifting reads ever lower levels up to a quarter of the span."""
    line = "135 cm, sees 25 cm..125 cm as 0..10 V"
    frozen = _above(run, line, 60)
    frozen.env["LT1!frozen"] = True
    frozen.state["header.volume"] = 0.0
    frozen.ticks(1000)
    assert frozen["LT1.signal"] == pytest.approx(5)
    false = _above(run, line, 60)
    false.env["LT1!false_echo"] = True
    false.ticks(1000)
    assert false["LT1.signal"] == pytest.approx(0)
    drifting = _above(run, line, 60, dt_ms=100)
    drifting.env["LT1!drifting"] = True
    drifting.ticks(100_000)
    assert drifting["LT1.signal"] == pytest.approx(6, abs=0.01)
    drifting.ticks(1_000_000)
    assert drifting["LT1.signal"] == pytest.approx(7.5)


@pytest.mark.parametrize(
    ("line", "slot", "says"),
    [
        ("135 cm", "sees", "says nothing of what it sees"),
        ("135 cm, sees 25 cm..125 cm as 0..10 V, air 0..120 degC", "air", "beyond what the formula"),
        ("135 cm, sees 25 cm..125 cm as 0..10 V, every 102 ms", "every", "whole number of plant ticks"),
        ("135 cm, sees 25 cm..125 cm as 0..10 V, on lost echo 21 mA", "lost_current", "must be in V too"),
    ],
)
def test_transmitters_that_cannot_be(run: Runs, line: str, slot: str, says: str) -> None:
    """A line that makes no transmitter is refused at the clause at fault."""
    with pytest.raises(PartError, match=says) as refused:
        _above(run, line)
    assert refused.value.slot == slot
