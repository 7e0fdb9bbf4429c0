"""The inside of a tank: volume from level, and level from volume by the closed operator set.

Levels in cm from the lowest point, volumes in L. `volume` is the closed form in plain
floats and runs only when a plant is put together; `level` runs in every tick and is
written against `ops`. It is within 1e-9 of the height of `volume`'s inverse, but for the last
thousandth below a domed brim, where the rounding of the volume itself moves the level by more.

A vessel is built from its bottom head, its straight shell and its top head, whose levels
simply add, so no piece has to be selected:

    level = rise(min(V, Vb)) + clamp(V - Vb, 0, Vs)/A + (depth - rise(clamp(Vb + Vs + Vt - V, 0, Vt)))
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from functools import cache
from typing import ClassVar

from rungproof.plant.fits import Fit, FitError, cube_root, fit, invert
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import PartError

CM3_PER_LITRE = 1000.0

#: How near a fitted curve must come, as a fraction of the piece's height.
TOLERANCE = 1e-11


class Shape(ABC):
    """What holds the liquid: `height` (cm) inside, `capacity` (L) to the brim."""

    height: float
    capacity: float

    @abstractmethod
    def volume(self, level: float) -> float:
        """Litres at a level of 0..height cm. Closed form, plain floats."""

    @abstractmethod
    def level(self, ops: Ops, volume: Value) -> Value:
        """Centimetres at a volume of 0..capacity L."""


class Head(ABC):
    """An end of an upright tank, point down: `depth` (cm) and `content` (L) to its rim."""

    depth: float
    content: float

    @abstractmethod
    def volume(self, rise: float) -> float:
        """Litres at `rise` cm above the lowest point, 0..depth."""

    @abstractmethod
    def rise(self, ops: Ops, volume: Value) -> Value:
        """Centimetres above the lowest point at a volume of 0..content L."""


class Cone(Head):
    """V = pi R^2 h^3 / (3 a^2), so h = a (V/Vfull)^(1/3)."""

    def __init__(self, radius: float, depth: float) -> None:
        self.depth = depth
        self.content = math.pi * radius**2 * depth / 3 / CM3_PER_LITRE

    def volume(self, rise: float) -> float:
        return self.content * float((rise / self.depth) ** 3)

    def rise(self, ops: Ops, volume: Value) -> Value:
        return self.depth * cube_root(ops, volume * (1 / self.content))


class Dished(Head):
    """Half an ellipsoid of depth a: V/Vfull = x^2 (3 - x)/2 with x = h/a.

    The fitted curve is x/u over u = sqrt(V/Vfull), which is smooth on 0..1 and the same
    for every size. a = R is a hemisphere, a = R/2 the usual 2:1 head.
    """

    def __init__(self, radius: float, depth: float) -> None:
        self.depth = depth
        self.content = 2 * math.pi * radius**2 * depth / 3 / CM3_PER_LITRE

    def volume(self, rise: float) -> float:
        x = rise / self.depth
        return self.content * x * x * (3 - x) / 2

    def rise(self, ops: Ops, volume: Value) -> Value:
        u = ops.sqrt(volume * (1 / self.content))
        return self.depth * (u * _dished_curve().at(u))


@cache
def _dished_curve() -> Fit:
    return fit(lambda u: invert(lambda x: x * x * (3 - x) / 2, u * u, 0.0, 1.0) / u, 0.0, 1.0, TOLERANCE)


class Torispherical(Head):
    """A dish of radius f D that meets the shell through a knuckle of radius k D; f = 1, k = 0.06.

    Dish, to the height a1 where the knuckle begins: V = pi h^2 (3 f D - h)/3. Knuckle, with
    y = depth - h and c = R - k D: A = pi (c + sqrt(k^2 D^2 - y^2))^2, integrated in closed form.
    Source of the geometry: D. Jones, "Computing fluid tank volumes", as cited by the tests'
    reference library; the proportions f = 1, k = 0.06 are the usual torispherical head.
    """

    F: ClassVar[float] = 1.0
    K: ClassVar[float] = 0.06

    def __init__(self, diameter: float) -> None:
        self.diameter = diameter
        unit = _torispherical_unit()
        self.depth = unit.depth * diameter
        self._scale = diameter**3 / CM3_PER_LITRE
        self.content = unit.content * self._scale

    def volume(self, rise: float) -> float:
        return _torispherical_unit().volume(rise / self.diameter) * self._scale

    def rise(self, ops: Ops, volume: Value) -> Value:
        return self.diameter * _torispherical_unit().rise(ops, volume * (1 / self._scale))


class _TorisphericalUnit:
    """The head of a shell of diameter 1, volumes in its cube. Made once."""

    def __init__(self) -> None:
        f, k = Torispherical.F, Torispherical.K
        self.k, self.f, self.c = k, f, 0.5 - k
        sine = self.c / (f - k)
        cosine = math.sqrt(1 - sine**2)
        self.dish = f * (1 - cosine)
        self.depth = self.dish + k * cosine
        self.dish_content = self._dish(self.dish)
        self.content = self.volume(self.depth)
        self._dish_curve = fit(
            lambda u: invert(self._dish, u * u, 0.0, self.dish) / u, 0.0, math.sqrt(self.dish_content), TOLERANCE
        )
        self._knuckle_curve = fit(
            lambda v: invert(self.volume, v, self.dish, self.depth), self.dish_content, self.content, TOLERANCE
        )

    def _dish(self, h: float) -> float:
        return math.pi * h * h * (3 * self.f - h) / 3

    def _turned(self, y: float) -> float:
        """Volume of the knuckle's zone between heights 0 and y below the rim."""
        k, c = self.k, self.c
        root = math.sqrt(max(0.0, k * k - y * y))
        area = y * root + k * k * math.asin(min(1.0, y / k))
        return math.pi * (c * c * y + c * area + k * k * y - y**3 / 3)

    def volume(self, h: float) -> float:
        if h <= self.dish:
            return self._dish(h)
        return self.dish_content + self._turned(self.depth - self.dish) - self._turned(self.depth - h)

    def rise(self, ops: Ops, volume: Value) -> Value:
        u = ops.sqrt(ops.min(volume, self.dish_content))
        in_dish = u * self._dish_curve.at(u)
        above = self._knuckle_curve.at(ops.max(volume, self.dish_content))
        return ops.select(volume < self.dish_content, in_dish, above)


@cache
def _torispherical_unit() -> _TorisphericalUnit:
    return _TorisphericalUnit()


class Straight(Shape):
    """Walls that stand straight over a cross-section, with heads or flat ends.

    `area` in cm2, `shell` the height of the straight part in cm.
    """

    def __init__(self, area: float, shell: float, bottom: Head | None = None, top: Head | None = None) -> None:
        self.area, self.shell, self.bottom, self.top = area, shell, bottom, top
        self._below = bottom.content if bottom else 0.0
        self._depth = bottom.depth if bottom else 0.0
        self._straight = area * shell / CM3_PER_LITRE
        self._per_litre = CM3_PER_LITRE / area
        self.height = self._depth + shell + (top.depth if top else 0.0)
        self.capacity = self._below + self._straight + (top.content if top else 0.0)

    def volume(self, level: float) -> float:
        litres = self.area * min(max(level - self._depth, 0.0), self.shell) / CM3_PER_LITRE
        if self.bottom:
            litres += self.bottom.volume(min(level, self._depth))
        if self.top and level > self._depth + self.shell:
            litres += self.top.content - self.top.volume(max(0.0, self.height - level))
        return litres

    def level(self, ops: Ops, volume: Value) -> Value:
        level = volume
        if self.bottom:
            level = ops.max(level - self._below, 0.0)
        if self.top:
            level = ops.min(level, self._straight)
        level = level * self._per_litre
        if self.bottom:
            level = self.bottom.rise(ops, ops.min(volume, self._below)) + level
        if self.top:
            empty = ops.max(0.0, ops.min(self.capacity - volume, self.top.content))
            level = level + (self.top.depth - self.top.rise(ops, empty))
        return level


class Lying(Shape):
    """A lying cylinder of diameter D and length L, with flat ends or half-ellipsoid ends of depth a.

    V = L (R^2 acos((R-h)/R) - (R-h) sqrt(2Rh - h^2)) + pi a h^2 (1 - h/(3R)), the bracket being
    R^2 (t - sin t)/2 with t = 4 asin(sqrt(h/2R)). It is symmetric about half height. With w the
    smaller of filled and empty share, h/u^2 is smooth in u = w^(1/3) (in u^2 for flat ends) and
    is fitted on 0..(1/2)^(1/3).
    """

    def __init__(self, diameter: float, length: float, end_depth: float = 0.0) -> None:
        self.height = diameter
        self._radius, self._length, self._end = diameter / 2, length, end_depth
        self.capacity = self._raw(diameter)
        self._half = self.capacity / 2
        self._even = end_depth == 0
        power = 1 / 1.5 if self._even else 1 / 3
        try:
            self._curve = fit(self._stretch, 0.0, 0.5**power, TOLERANCE)
        except FitError:
            raise PartError(
                "length",
                "is too short for its diameter: its level cannot be worked out finely enough",
                "give it a length of at least a quarter of its diameter",
            ) from None

    def _raw(self, h: float) -> float:
        r = self._radius
        angle = 4 * math.asin(math.sqrt(min(1.0, h / (2 * r))))
        segment = r * r / 2 * _less_sine(angle)
        return (self._length * segment + math.pi * self._end * h * h * (1 - h / (3 * r))) / CM3_PER_LITRE

    def volume(self, level: float) -> float:
        return self._raw(level)

    def _stretch(self, x: float) -> float:
        share = x**1.5 if self._even else x**3
        level = invert(self._raw, share * self.capacity, 0.0, self._radius) / self.height
        return level / (x if self._even else x * x)

    def level(self, ops: Ops, volume: Value) -> Value:
        share = ops.max(0.0, ops.min(volume, self.capacity - volume)) * (1 / self.capacity)
        root = cube_root(ops, share)
        square = root * root
        rise = (self.height * square) * self._curve.at(square if self._even else root)
        return ops.select(volume < self._half, rise, self.height - rise)


def _less_sine(angle: float) -> float:
    """angle - sin(angle), by its series where the difference would lose its digits."""
    if angle > 1.0:
        return angle - math.sin(angle)
    term, total, n = angle**3 / 6, 0.0, 3
    while abs(term) > 1e-18 * abs(total):
        total += term
        term *= -angle * angle / ((n + 1) * (n + 2))
        n += 2
    return total
