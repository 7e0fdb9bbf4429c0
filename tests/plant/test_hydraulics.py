"""Draining, filling, siphoning and pumping against closed forms and handbook numbers."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.siphon import CREST_LIMIT

Runs = Callable[..., Any]

# D = 1 m, orifice 20 mm, Cd = 0.61 (sharp edge; handbook value, from memory), g = 9.80665 m/s2.
DRAINING = """
    tank butt    upright cylinder, diameter 1 m, height 2.5 m, starts at {level} cm
    outlet hole  from butt, orifice 20 mm, coefficient 0.61
    valve inlet  into butt, flow 30 L/min
"""
C = 0.61 * math.pi / 4 * 0.02**2 * math.sqrt(2 * 9.80665)
A = math.pi / 4


def _draining(run: Runs, level: float, dt_ms: int) -> Any:
    return run(DRAINING.format(level=level), dt_ms)


def test_initial_flow(run: Runs) -> None:
    """Under 2 m of water the orifice passes 1.2002454 L/s (Torricelli)."""
    draining = _draining(run, 200, 10)
    draining.tick()
    assert draining["hole.flow"] / 60 == pytest.approx(1.2002454, rel=1e-6)


# Source: closed form h = (sqrt(h0) - c t/(2A))^2, checked against scipy.integrate.solve_ivp.
@pytest.mark.parametrize(
    ("seconds", "metres"),
    [(500, 1.308881152), (1000, 0.763724482), (1500, 0.364529991), (2000, 0.111297679), (2500, 0.004027545)],
)
def test_level_while_draining(run: Runs, seconds: int, metres: float) -> None:
    """The level follows the closed form within the error of a 0.1 s step."""
    draining = _draining(run, 200, 100)
    draining.ticks(1000 * seconds)
    assert draining["butt.level"] / 100 == pytest.approx(metres, abs=5e-5)


@pytest.mark.parametrize(("share", "seconds"), [(0.5, 766.6359), (0.25, 1308.7293)])
def test_time_to_a_share_of_the_level(run: Runs, share: float, seconds: float) -> None:
    """Half and a quarter of the level come when the closed form says."""
    draining = _draining(run, 200, 100)
    reached = draining.until(lambda: draining["butt.level"] <= 200 * share, 10**7)
    assert reached / 1000 == pytest.approx(seconds, abs=0.2)


def test_error_halves_with_the_step(run: Runs) -> None:
    """Explicit Euler: the error at 1000 s is in proportion to the tick."""
    errors = []
    for dt_ms in (2000, 1000, 500):
        draining = _draining(run, 200, dt_ms)
        draining.ticks(1_000_000)
        errors.append(draining["butt.level"] / 100 - (math.sqrt(2) - C * 1000 / (2 * A)) ** 2)
    assert errors[0] / errors[1] == pytest.approx(2, rel=0.02)
    assert errors[1] / errors[2] == pytest.approx(2, rel=0.02)


def test_filling_against_the_orifice(run: Runs) -> None:
    """With 0.5 L/s flowing in, 0 to 0.3 m takes 1881.31 s (closed form = scipy quad)."""
    filling = _draining(run, 0, 100)
    filling.drive["inlet.coil"] = True
    reached = filling.until(lambda: filling["butt.level"] >= 30, 10**7)
    assert reached / 1000 == pytest.approx(1881.3104388, abs=0.5)


def test_steady_level(run: Runs) -> None:
    """With 0.5 L/s flowing in, the level settles at 0.3470802663 m."""
    filling = _draining(run, 34, 1000)
    filling.drive["inlet.coil"] = True
    filling.ticks(20_000_000)
    assert filling["butt.level"] / 100 == pytest.approx(0.3470802663, rel=1e-7)


@pytest.mark.parametrize(("level", "seconds"), [(100, 3142.05432), (50, 2031.17036)])
def test_lying_tank_runs_empty(run: Runs, level: float, seconds: float) -> None:
    """A lying tank empties in 4 L (D^1.5 - (D-h)^1.5)/(3 c), from full and from half full."""
    draining = run(
        f"""
        tank drum    lying cylinder, diameter 1 m, length 2 m, starts at {level} cm
        outlet hole  from drum, orifice 20 mm, coefficient 0.61
        """,
        250,
    )
    reached = draining.until(lambda: draining["drum.volume"] < 1e-3, 10**7)
    assert reached / 1000 == pytest.approx(seconds, abs=3)


def test_siphon_flow(run: Runs) -> None:
    """1.2 m of fall, losses 1.5, bore 25 mm: 1.5061418 L/s (Bernoulli with losses)."""
    siphon = run(
        """
        tank basin     rectangular, length 4 m, width 4 m, height 1 m, starts at 40 cm
        siphon relief  from basin, bore 25 mm, losses 1.5, crest at 60 cm, discharges 80 cm below, starts running
        """
    )
    siphon.tick()
    assert siphon["relief.flow"] / 60 == pytest.approx(1.5061418, rel=1e-6)


def test_siphon_starts_at_its_crest_and_breaks_on_air(run: Runs) -> None:
    """It runs only once the level has stood at the crest, then down to its inlet, and not again."""
    siphon = run(
        """
        tank basin     rectangular, length 50 cm, width 50 cm, height 1 m, starts at 55 cm
        pump mains     into basin, 0..30 L/min
        siphon relief  from basin, bore 25 mm, inlet at 5 cm, crest at 60 cm, discharges 80 cm below
        """,
        20,
    )
    siphon.tick()
    assert not siphon["relief.running"]
    siphon.drive |= {"mains.supply": True, "mains.speed": 10.0}
    siphon.until(lambda: siphon["relief.running"], 60_000)
    assert siphon["basin.level"] == pytest.approx(60, abs=0.1)
    siphon.drive.clear()
    siphon.until(lambda: not siphon["relief.running"], 600_000)
    assert siphon["basin.level"] == pytest.approx(5, abs=0.1)
    siphon.env["relief.prime"] = True
    siphon.tick()
    assert not siphon["relief.running"], "an inlet above the water cannot be primed"


def test_siphon_crest_limit(run: Runs) -> None:
    """A crest higher above the level than the air can carry water breaks the column: 10.1119 m at 20 degC."""
    assert abs(CREST_LIMIT / 100 - 10.1119) < 1e-4
    for crest, runs in ((1010, True), (1013, False)):
        siphon = run(
            f"""
            tank basin     rectangular, length 4 m, width 4 m, height 1 m, starts at 1 cm
            siphon relief  from basin, bore 25 mm, crest at {crest} cm, discharges 80 cm below
            """
        )
        siphon.env["relief.prime"] = True
        siphon.tick()
        assert siphon["relief.running"] is runs


PUMP = """
    reservoir well  holds 1000 L
    tank tower      rectangular, length 1 m, width 1 m, height 1 m
    pump P1         from well into tower, 0..12 L/min{more}
"""


@pytest.mark.parametrize(("volts", "share"), [(10.0, 1.0), (8.0, 0.8), (5.0, 0.5), (0.0, 0.0)])
def test_flow_is_in_proportion_to_speed(run: Runs, volts: float, share: float) -> None:
    """First affinity law: at 80 % speed, 0.8 of the flow."""
    pumping = run(PUMP.format(more=""))
    pumping.drive |= {"P1.supply": True, "P1.speed": volts}
    pumping.tick()
    assert pumping["P1.flow"] == pytest.approx(12 * share)


def test_pump_stands_still_inside_its_deadband(run: Runs) -> None:
    """Up to 0.8 V nothing turns; from there the flow grows to the full one at 10 V."""
    for volts, flow in ((0.79, 0.0), (0.8, 0.0), (5.4, 6.0), (10.0, 12.0)):
        pumping = run(PUMP.format(more=", deadband 0.8 V"))
        pumping.drive |= {"P1.supply": True, "P1.speed": volts}
        pumping.tick()
        assert pumping["P1.flow"] == pytest.approx(flow)
        assert pumping["P1.turning"] is (flow > 0)


def test_pump_with_a_least_flow(run: Runs) -> None:
    """`2..12 L/min`: just past its deadband it moves 2 L/min, at the full signal 12."""
    for volts, flow in ((0.5, 0.0), (1.0, 0.0), (1.0 + 1e-9, 2.0), (5.5, 7.0), (10.0, 12.0)):
        pumping = run("reservoir well holds 1000 L\npump P1 from well, 2..12 L/min, deadband 1 V")
        pumping.drive |= {"P1.supply": True, "P1.speed": volts}
        pumping.tick()
        assert pumping["P1.flow"] == pytest.approx(flow)


def test_pump_lag_is_first_order(run: Runs) -> None:
    """One time constant after the step the flow is 1 - (1 + dt/T)^(-T/dt) of its end: backward Euler."""
    pumping = run(PUMP.format(more=", lag 0.4 s"))
    pumping.drive |= {"P1.supply": True, "P1.speed": 10.0}
    pumping.ticks(400)
    assert pumping["P1.flow"] / 12 == pytest.approx(1 - (1 + 5 / 400) ** -80, rel=1e-9)
    assert pumping["P1.flow"] / 12 == pytest.approx(1 - math.exp(-1), abs=0.003)


def test_energised_turning_and_flowing_are_three_things(run: Runs) -> None:
    """A supplied pump may stand still, and a turning one may move nothing."""
    pumping = run(PUMP.format(more=", lag 0.4 s"))
    pumping.drive |= {"P1.supply": True, "P1.speed": 10.0}
    pumping.env["P1!stalled"] = True
    pumping.ticks(1000)
    assert (pumping["P1.energised"], pumping["P1.turning"], pumping["P1.flow"]) == (True, False, 0.0)
    pumping.env = {"P1!not_primed": True}
    pumping.ticks(1000)
    assert (pumping["P1.energised"], pumping["P1.turning"], pumping["P1.flow"]) == (True, True, 0.0)
    pumping.env = {"P1!worn": True}
    pumping.ticks(10_000)
    assert pumping["P1.flow"] == pytest.approx(0.5 * 12)
    pumping.drive["P1.supply"] = False
    pumping.tick()
    assert (pumping["P1.energised"], pumping["P1.turning"]) == (False, True), "it runs down"


def test_pump_that_ran_dry_needs_priming(run: Runs) -> None:
    """Having emptied its source it moves nothing, even when liquid is back, until someone primes it."""
    pumping = run(
        """
        tank sump      rectangular, length 1 m, width 1 m, height 1 m, starts at 1 L
        pump P1        from sump, 0..60 L/min, fixed speed, loses prime when dry
        valve inlet    into sump, flow 30 L/min
        """,
        100,
    )
    pumping.drive["P1.supply"] = True
    pumping.until(lambda: pumping["P1.starved"], 5000)
    assert not pumping["P1.primed"]
    pumping.env["P1.prime"] = True
    pumping.ticks(1000)
    assert not pumping["P1.primed"], "there is nothing to prime it with"
    pumping.env["P1.prime"] = False
    pumping.drive["inlet.coil"] = True
    pumping.ticks(10_000)
    assert pumping["P1.flow"] == 0
    assert pumping["sump.volume"] == pytest.approx(5, abs=0.1)
    pumping.env["P1.prime"] = True
    pumping.ticks(200)
    assert pumping["P1.flow"] == pytest.approx(60)


def test_washout_of_a_mixed_tank(run: Runs) -> None:
    """After n volumes of clear water a mixed tank keeps exp(-n) of its concentration."""
    rinsing = run(
        """
        tank vat       rectangular, length 1 m, width 1 m, height 1 m, starts at 100 L, additive 2 g/L
        valve inlet    into vat, flow 60 L/min
        demand outlet  from vat, 0..60 L/min
        """,
        100,
    )
    rinsing.drive["inlet.coil"] = True
    rinsing.env["outlet.demand"] = 60.0
    for volumes, kept in ((0.5, 0.606531), (1, 0.367879), (2, 0.135335), (3, 0.049787)):
        rinsing.ticks(int(volumes * 100_000) - rinsing.time_ms)
        assert rinsing["vat.concentration"] / 2 == pytest.approx(kept, abs=3e-4)
