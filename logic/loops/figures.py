"""Figures of a controlled quantity's course. Plain numbers in, plain numbers out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Response:
    """How a quantity comes to its setpoint after a step.

    `overshoot`: the farthest beyond the setpoint, in the quantity's unit, 0 if it never crosses it.
    `settled_ms`: from the step until the last instant outside the band; None if it ends outside.
    """

    overshoot: float
    peak_error: float
    settled_ms: int | None


@dataclass(frozen=True, slots=True)
class Holding:
    """How closely a quantity is held over a stretch: mean and worst absolute error, in its unit."""

    mean_error: float
    worst_error: float

    @property
    def errors(self) -> tuple[float, float]:
        return self.mean_error, self.worst_error


@dataclass(frozen=True, slots=True)
class Cycle:
    """A swing that goes on: from trough to crest in the quantity's unit, and the mean period (ms)."""

    swing: float
    period_ms: float


def response(times: Sequence[int], values: Sequence[float], setpoint: float, band: float) -> Response:
    """Figures of a step response; the step is at the first instant. Settling time as in any textbook."""
    start = values[0]
    beyond = [v - setpoint if setpoint >= start else setpoint - v for v in values]
    outside = [t for t, v in zip(times, values, strict=True) if abs(v - setpoint) > band]
    settled = 0 if not outside else None if outside[-1] == times[-1] else outside[-1] - times[0]
    return Response(max(0.0, *beyond), max(abs(v - setpoint) for v in values), settled)


def holding(values: Sequence[float], setpoints: Sequence[float]) -> Holding:
    """Mean and worst absolute error."""
    errors = [abs(v - s) for v, s in zip(values, setpoints, strict=True)]
    return Holding(sum(errors) / len(errors), max(errors))


def cycle(times: Sequence[int], values: Sequence[float], least: float) -> Cycle | None:
    """A swing of at least `least` around the mean, with three periods or more that are alike; None if there is none.

    A period is the time between two upward crossings of the mean, with a dead zone of a quarter
    of the swing against noise. Alike: none differs from the mean period by more than half of it.
    """
    swing = max(values) - min(values)
    if swing < least:
        return None
    middle = (max(values) + min(values)) / 2
    crossings: list[int] = []
    low = values[0] < middle
    for time, value in zip(times, values, strict=True):
        if low and value > middle + swing / 8:
            crossings.append(time)
            low = False
        elif not low and value < middle - swing / 8:
            low = True
    periods = [b - a for a, b in pairwise(crossings)]
    if len(periods) < 3:
        return None
    mean = sum(periods) / len(periods)
    return Cycle(swing, mean) if all(abs(period - mean) <= mean / 2 for period in periods) else None


def starts_per_hour(times: Sequence[int], states: Sequence[bool]) -> float:
    """How often something comes on, an hour."""
    rises = sum(now and not before for before, now in pairwise(states))
    hours = (times[-1] - times[0]) / 3_600_000
    return rises / hours if hours > 0 else 0.0


def balancing_volume(flows: Sequence[float], step_s: float) -> float:
    """The volume that evens out a draw-off against its own mean inflow, by the mass curve (Rippl).

    `flows` in volume a second, each for `step_s` seconds; the result in that volume.
    """
    mean = sum(flows) / len(flows)
    stored, levels = 0.0, [0.0]
    for flow in flows:
        stored += (mean - flow) * step_s
        levels.append(stored)
    return max(levels) - min(levels)
