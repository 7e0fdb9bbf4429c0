"""Drives, mixers, water heaters, doors, beacons."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]

DRIVE = "drive U1 ready after 2 s, runs up 1 s, runs down 3 s, deadband 0.5 V"


def _running(run: Runs) -> Any:
    drive = run(DRIVE)
    drive.drive = {"U1.supply": True, "U1.enable": True, "U1.run": True, "U1.speed": 10.0}
    drive.ticks(20_000)
    return drive


def test_drive_is_ready_after_its_time(run: Runs) -> None:
    """It reports ready 2 s after the supply, and only then runs."""
    drive = run(DRIVE)
    drive.drive = {"U1.supply": True, "U1.enable": True, "U1.run": True, "U1.speed": 10.0}
    assert drive.until(lambda: drive["U1.is_ready"], 10_000) == pytest.approx(2000, abs=5)
    assert drive["U1.is_running"]


def test_drive_speed_is_linear_above_its_deadband(run: Runs) -> None:
    """0.5 V is nothing, 10 V is full, 5.25 V is half; half way down takes 3 s x ln 2."""
    drive = _running(run)
    assert drive["U1.speed_now"] == pytest.approx(100, abs=1e-4)
    drive.drive["U1.speed"] = 5.25
    drive.ticks(60_000)
    assert drive["U1.speed_now"] == pytest.approx(50)
    drive.drive["U1.speed"] = 0.5
    start = drive.time_ms
    halved = drive.until(lambda: drive["U1.speed_now"] <= 25, 200_000) - start
    assert halved / 1000 == pytest.approx(3 * math.log(2), abs=0.01)


@pytest.mark.parametrize("gone", ["supply", "enable", "run"])
def test_drive_stops_without_any_of_its_three(run: Runs, gone: str) -> None:
    """Supply, enable and run are each needed: without one it is not energised and the shaft coasts down."""
    drive = _running(run)
    drive.drive[f"U1.{gone}"] = False
    drive.tick()
    assert (drive["U1.energised"], drive["U1.is_running"], drive["U1.turning"]) == (False, False, True)
    drive.ticks(30_000)
    assert not drive["U1.turning"]


def test_drive_faults(run: Runs) -> None:
    """Runs on without its signal, but not without its enable, unless it ignores that; a trip wants the supply away."""
    drive = _running(run)
    drive.env = {"U1!keeps_running": True}
    drive.drive["U1.run"] = False
    drive.ticks(1000)
    assert drive["U1.is_running"]
    drive.drive["U1.enable"] = False
    drive.ticks(1000)
    assert not drive["U1.is_running"]
    drive = _running(run)
    drive.env = {"U1!ignores_enable": True}
    drive.drive["U1.enable"] = False
    drive.ticks(1000)
    assert drive["U1.is_running"]
    drive.env = {"U1!trips": True}
    drive.tick()
    drive.env = {}
    drive.ticks(60_000)
    assert not drive["U1.is_ready"]
    drive.drive["U1.supply"] = False
    drive.tick()
    drive.drive["U1.supply"] = True
    drive.ticks(3000)
    assert drive["U1.is_ready"]
    drive.drive["U1.speed"] = 0.0
    drive.env = {"U1!runs_full": True}
    drive.drive["U1.enable"] = True
    drive.drive["U1.run"] = True
    drive.ticks(20_000)
    assert drive["U1.speed_now"] == pytest.approx(100, abs=1e-4)
    drive.env = {"U1!stalled": True}
    drive.tick()
    assert (drive["U1.is_running"], drive["U1.turning"]) == (True, False)
    drive.env = {"U1!not_ready": True}
    drive.tick()
    assert not drive["U1.is_ready"]


def test_mixer_mixes_and_settles(run: Runs) -> None:
    """63 % mixed after its time constant; a broken shaft turns the motor and mixes nothing."""
    mixer = run("mixer A1 mixes in 30 s, settles in 10 min")
    mixer.drive["A1.supply"] = True
    mixer.ticks(30_000)
    assert mixer["A1.mixed"] == pytest.approx(100 * (1 - math.exp(-1)), abs=0.02)
    assert mixer["A1.turns"]
    mixer.drive["A1.supply"] = False
    before = mixer["A1.mixed"]
    mixer.ticks(60_000)
    assert mixer["A1.mixed"] == pytest.approx(before * math.exp(-0.1), abs=0.02)
    mixer.drive["A1.supply"] = True
    mixer.env = {"A1!shaft_broken": True}
    before = mixer["A1.mixed"]
    mixer.ticks(1000)
    assert mixer["A1.turns"]
    assert mixer["A1.mixed"] < before
    mixer.env = {"A1!stalled": True}
    mixer.tick()
    assert not mixer["A1.turns"]


HEATER = (
    "water_heater E1 power 3 kW, holding 50 L, loses 12 W, thermostat opens at 60 degC, closes at 55 degC, "
    "limiter opens at 75 degC"
)


def test_water_heater_follows_the_heat_balance(run: Runs) -> None:
    """T = 20 + (P/loss)(1 - exp(-loss t/C)), C = 4186 J/(kg K) x 50 kg: the closed form, and scipy's solution of it."""
    from scipy.integrate import solve_ivp

    heater = run(HEATER, 100)
    heater.drive["E1.supply"] = True
    heater.ticks(600_000)
    capacity = 4186 * 50
    closed_form = 20 + 3000 / 12 * (1 - math.exp(-12 * 600 / capacity))
    solved = solve_ivp(lambda _, t: (3000 - 12 * (t - 20)) / capacity, (0, 600), [20.0], rtol=1e-9, atol=1e-9)
    assert solved.y[0, -1] == pytest.approx(closed_form, rel=1e-7)
    assert heater["E1.temperature"] == pytest.approx(closed_form, abs=2e-4)


def test_thermostat_and_limiter(run: Runs) -> None:
    """The thermostat opens and closes by itself; the limiter opens for good, and is reset by hand once it is cool."""
    heater = run(HEATER, 1000)
    heater.drive["E1.supply"] = True
    heater.until(lambda: not heater["E1.thermostat"], 10**7)
    assert heater["E1.temperature"] == pytest.approx(60, abs=0.05)
    heater.until(lambda: not heater["E1.limiter"], 10**7)
    assert heater["E1.temperature"] == pytest.approx(75, abs=0.05)
    heater.env["E1.reset"] = True
    heater.tick()
    assert not heater["E1.limiter"]
    heater.env = {}
    heater.drive["E1.supply"] = False
    heater.until(lambda: heater["E1.thermostat"], 10**8)
    assert heater["E1.temperature"] == pytest.approx(55, abs=0.05)
    assert heater["E1.limited"]
    heater.env["E1.reset"] = True
    heater.tick()
    assert heater["E1.limiter"]


def test_water_heater_faults(run: Runs) -> None:
    """A sensor out of its pocket never opens the thermostat, the limiter still does; scale halves; a break ends."""
    heater = run(HEATER, 1000)
    heater.drive["E1.supply"] = True
    heater.env = {"E1!feels_cold": True}
    heater.until(lambda: not heater["E1.limiter"], 10**7)
    assert heater["E1.thermostat"]
    rises = []
    for fault in ("none", "scaled", "burnt_out"):
        heater = run(HEATER, 1000)
        heater.drive["E1.supply"] = True
        heater.env = {f"E1!{fault}": True}
        heater.tick()
        rises.append(heater["E1.temperature"] - 20)
    assert rises == pytest.approx([3 / 209.3, 1.5 / 209.3, 0])


def test_what_a_water_heater_refuses(part: Callable[..., Part]) -> None:
    """A limiter below the thermostat; a thermostat that closes above where it opens."""
    with pytest.raises(PartError, match="limiter opens before the thermostat"):
        part(HEATER.replace("75 degC", "58 degC"))
    with pytest.raises(PartError, match="closes at a higher temperature"):
        part(HEATER.replace("55 degC", "65 degC"))


DOOR = "door D1 opens in 4 s, closes in 5 s, starts closed"


def test_door_travels_between_its_end_switches(run: Runs) -> None:
    """4 s up, 5 s down, a contact at each end; with both coils it stands still."""
    door = run(DOOR)
    assert (door["D1.closed"], door["D1.open"]) == (True, False)
    door.drive = {"D1.opens": True}
    assert door.until(lambda: door["D1.open"], 10_000) == pytest.approx(4000, abs=5)
    door.drive = {"D1.opens": True, "D1.closes": True}
    door.ticks(1000)
    assert (door["D1.open"], door["D1.moving"]) == (True, False)
    door.drive = {"D1.closes": True}
    start = door.time_ms
    assert door.until(lambda: door["D1.closed"], 20_000) - start == pytest.approx(5000, abs=5)


def test_door_presses_on_what_is_in_the_way(run: Runs) -> None:
    """A closing door stops against it and its edge closes; an opening one does not mind."""
    door = run("door D1 opens in 4 s, closes in 5 s")
    door.drive = {"D1.closes": True}
    door.ticks(1000)
    door.env = {"D1.obstructed": True}
    door.tick()
    assert (door["D1.edge"], door["D1.moving"]) == (True, False)
    door.env["D1!edge_dead"] = True
    door.tick()
    assert not door["D1.edge"]
    door.drive = {"D1.opens": True}
    door.tick()
    assert door["D1.moving"]
    door.env = {"D1!seized": True}
    door.tick()
    assert not door["D1.moving"]
    door.drive, door.env = {}, {"D1!falls_shut": True}
    door.tick()
    assert door["D1.closing"]


def test_beacon_flashes_at_two_hertz(run: Runs) -> None:
    """25 scans of 10 ms lit, 25 dark (IEC 60073, 1.4 to 2.8 Hz), from the moment it is supplied."""
    beacon = run("beacon H5 flashes every 500 ms", 10)
    beacon.drive["H5.supply"] = True
    shown = ""
    for _ in range(100):
        beacon.tick()
        shown += "01"[beacon["H5.lit"]]
    assert shown == ("1" * 25 + "0" * 25) * 2
    beacon.env = {"H5!burnt_out": True}
    beacon.tick()
    assert (beacon["H5.energised"], beacon["H5.lit"]) == (True, False)
    beacon.env = {"H5!steady": True}
    beacon.ticks(300)
    assert beacon["H5.lit"]


def test_a_beacon_cannot_outpace_the_plant(part: Callable[..., Part]) -> None:
    """A half period shorter than half a tick is refused."""
    with pytest.raises(PartError, match="flashes faster than the plant ticks"):
        part("beacon H5 flashes every 4 ms", 10)
