"""A public network example: its tank, filled by a pump that switches by level, over a day."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import wntr

HOUR_MS = 3_600_000

#: Greatest flow of the model's pump and demand (L/min): above all flows of the example.
MOST = 10_000


def test_a_day_of_a_public_network(run: Callable[..., Any], tmp_path: Path) -> None:
    """Levels and switching times of the network library's example Net1, within 5 mm and 10 s.

    Source: wntr's library network Net1 (a public EPANET example): pump off above 42.672 m, on
    below 33.528 m. Our pump runs at the example's own hourly flows (that of hour 23 once it
    is switched on within hour 22, where the example reports it at rest), our demand at its
    hourly demands; the levels are then a piecewise-constant balance.
    """
    pump_m3_s, demand_m3_s, area = _example(tmp_path)
    diameter = math.sqrt(4 * area / math.pi)
    tower = run(
        f"""
        tank tower     upright cylinder, diameter {diameter:.6f} m, height 50 m, starts at 3657.6 cm
        pump lift      into tower, 0..{MOST} L/min
        demand town    from tower, 0..{MOST} L/min
        """,
        1000,
    )
    running, levels, switched = True, {}, []
    while tower.time_ms < 24 * HOUR_MS:
        hour = tower.time_ms // HOUR_MS
        level = tower["tower.level"] / 100
        if tower.time_ms % HOUR_MS == 0:
            levels[hour] = level
        wanted = False if level > 42.672 else True if level < 33.528 else running
        if wanted is not running:
            switched.append(tower.time_ms / 1000)
        running = wanted
        tower.drive["lift.supply"] = running
        tower.drive["lift.speed"] = 10 * (pump_m3_s[hour] or pump_m3_s[23]) * 60_000 / MOST
        tower.env["town.demand"] = demand_m3_s[hour] * 60_000
        tower.tick()
    assert switched == pytest.approx([45_154, 81_690], abs=10)
    for hour, metres in ((12, 42.2367), (13, 42.0581), (22, 34.2709), (23, 33.9181)):
        assert levels[hour] == pytest.approx(metres, abs=0.005)


def _example(folder: Path) -> tuple[list[float], list[float], float]:
    """Hourly pump flows and demands (m3/s) and the tank's cross-section (m2), from the example itself."""
    network = wntr.network.WaterNetworkModel(str(Path(wntr.__file__).parent / "library" / "networks" / "Net1.inp"))
    results = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(folder / "net1"))
    flows = [max(0.0, float(flow)) for flow in results.link["flowrate"][network.pump_name_list[0]]]
    demands = [float(each) for each in results.node["demand"][network.junction_name_list].sum(axis=1)]
    tank = network.get_node(network.tank_name_list[0])
    return flows, demands, math.pi / 4 * tank.diameter**2
