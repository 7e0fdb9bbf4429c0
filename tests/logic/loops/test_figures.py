"""Figures of courses against textbook values and the library `control`."""

from __future__ import annotations

import math

import control
import numpy as np
import pytest
from rungproof.logic.loops.figures import balancing_volume, cycle, holding, response, starts_per_hour


def _step(damping: float) -> tuple[list[int], list[float]]:
    """The step response of 1/(s^2 + 2 z s + 1), at every millisecond of 40 s."""
    times = np.linspace(0, 40, 40_001)
    outputs = control.step_response(control.tf([1], [1, 2 * damping, 1]), times).outputs
    return [round(1000 * t) for t in times], [float(y) for y in outputs]


def test_overshoot_of_a_second_order_step() -> None:
    """Damping 0.5: 16.3034 % (textbook, exp(-pi z/sqrt(1 - z^2))), and what `control.step_info` says on a fine grid."""
    times, values = _step(0.5)
    found = response(times, values, 1.0, 0.02)
    assert found.overshoot == pytest.approx(math.exp(-math.pi * 0.5 / math.sqrt(0.75)), abs=1e-6)
    assert 100 * found.overshoot == pytest.approx(16.3034, abs=1e-4)
    info = control.step_info(control.tf([1], [1, 1, 1]), T=np.linspace(0, 40, 40_001))
    assert found.settled_ms == pytest.approx(1000 * info["SettlingTime"], abs=2)


def test_a_course_that_never_settles() -> None:
    """It ends outside its band: no settling time."""
    assert response([0, 1000, 2000], [0.0, 0.5, 0.9], 1.0, 0.02).settled_ms is None
    assert response([0, 1000, 2000], [3.0, 0.5, 1.0], 1.0, 0.02).overshoot == 0.5


def test_errors_held() -> None:
    """Mean and worst absolute error."""
    held = holding([1.0, 2.0, 4.0], [2.0, 2.0, 2.0])
    assert (held.mean_error, held.worst_error) == (1.0, 2.0)


def test_a_swing_that_goes_on_is_a_cycle() -> None:
    """A sine of 20 s is one; noise, a decaying swing below the least, and a single hump are none."""
    times = list(range(0, 120_000, 100))
    found = cycle(times, [math.sin(2 * math.pi * t / 20_000) for t in times], 0.5)
    assert found is not None
    assert found.swing == pytest.approx(2, abs=1e-3)
    assert found.period_ms == pytest.approx(20_000, rel=1e-2)
    assert cycle(times, [0.1 * math.sin(2 * math.pi * t / 20_000) for t in times], 0.5) is None
    assert cycle(times, [math.exp(-((t - 60_000) ** 2) / 1e8) for t in times], 0.5) is None


def test_starts_an_hour() -> None:
    """Two starts in half an hour are four an hour."""
    assert starts_per_hour([0, 600_000, 1_200_000, 1_800_000], [False, True, False, True]) == 4


def test_balancing_volume_by_hand() -> None:
    """2, 0, 2, 0 against a mean of 1, an hour each: one unit an hour is stored and given back."""
    assert balancing_volume([2.0, 0.0, 2.0, 0.0], 3600) == 3600
