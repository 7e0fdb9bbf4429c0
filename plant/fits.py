"""Curves that the closed operator set lacks: a cube root, and polynomials fitted when a part is made.

Only `+ - *`, `sqrt` and a guarded quotient run per tick, so all engines give the same
bits. The fitting itself runs once, in plain floats, when the plant is put together.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from rungproof.plant.operators import Ops, Value


def cube_root(ops: Ops, x: Value) -> Value:
    """Cube root of x in 0..1: relative error below 1e-12 for x above 1e-30, absolute below that.

    y <- (x y)^(1/4) has the cube root as its fixed point and quarters the error's logarithm;
    five such steps from 1 leave 2 % at most, and two of Halley's method,
    y (y^3 + 2x) / (2y^3 + x), cube what is left twice over.
    Source: Halley's method, as in any numerical textbook.
    """
    y = ops.sqrt(ops.sqrt(x))
    for _ in range(4):
        y = ops.sqrt(ops.sqrt(x * y))
    for _ in range(2):
        cube = y * y * y
        y = y * ops.divide(cube + 2.0 * x, 2.0 * cube + x)
    return y


class Fit:
    """A Chebyshev polynomial on low..high, evaluated by Clenshaw's recurrence.

    Source: C. W. Clenshaw, Math. Comp. 9 (1955) 118-120.
    """

    def __init__(self, coefficients: tuple[float, ...], low: float, high: float) -> None:
        self.coefficients = coefficients
        self._stretch = 2.0 / (high - low)
        self._shift = -(high + low) / (high - low)

    def at(self, x: Value) -> Value:
        """The polynomial's value; x within low..high."""
        scaled = x * self._stretch + self._shift
        twice = scaled + scaled
        later, latest = self.coefficients[-1], 0.0
        for coefficient in self.coefficients[-2:0:-1]:
            later, latest = twice * later - latest + coefficient, later
        return scaled * later - latest + self.coefficients[0]


class FitError(ValueError):
    """Raised where no polynomial of allowed degree comes close enough."""


def fit(function: Callable[[float], float], low: float, high: float, tolerance: float) -> Fit:
    """The polynomial of lowest tried degree within `tolerance` of `function` at unseen points.

    Raises `FitError` where degree 95 is not enough.
    """
    for count in (8, 12, 16, 24, 32, 48, 64, 96):
        candidate = _interpolate(function, low, high, count)
        between = [low + (high - low) * (1 - math.cos(math.pi * k / (2 * count))) / 2 for k in range(1, 2 * count)]
        if max(abs(candidate.at(x) - function(x)) for x in between) <= tolerance:
            return candidate
    raise FitError(f"no polynomial up to degree 95 comes within {tolerance:g}")


def _interpolate(function: Callable[[float], float], low: float, high: float, count: int) -> Fit:
    angles = [math.pi * (k + 0.5) / count for k in range(count)]
    values = [function(low + (high - low) * (1 + math.cos(angle)) / 2) for angle in angles]
    coefficients = [
        (1 if j == 0 else 2) / count * sum(v * math.cos(j * angle) for v, angle in zip(values, angles, strict=True))
        for j in range(count)
    ]
    return Fit(tuple(coefficients), low, high)


def invert(function: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Where a rising `function` reaches `target`, by bisection to the last bit."""
    while True:
        middle = (low + high) / 2
        if middle in (low, high):
            return middle
        if function(middle) < target:
            low = middle
        else:
            high = middle
