"""Tank volumes and levels against closed forms and a reference library."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import fluids
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.plant.fits import cube_root
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Part
from rungproof.plant.shapes import Cone, Dished, Lying, Shape, Straight, Torispherical

Build = Callable[[float, float, float], tuple[Shape, dict[str, Any]]]


def _area(diameter: float) -> float:
    return math.pi * diameter**2 / 4


def _upright(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    return Straight(_area(diameter), length), {"horizontal": False}


def _cone(diameter: float, length: float, depth: float) -> tuple[Shape, dict[str, Any]]:
    shape = Straight(_area(diameter), length, Cone(diameter / 2, depth))
    return shape, {"horizontal": False, "sideA": "conical", "sideA_a": depth / 100}


def _hemispherical(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    shape = Straight(_area(diameter), length, Dished(diameter / 2, diameter / 2))
    return shape, {"horizontal": False, "sideA": "spherical", "sideA_a": diameter / 200}


def _ellipsoidal(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    head = Dished(diameter / 2, diameter / 4)
    ends = {"sideA": "ellipsoidal", "sideB": "ellipsoidal", "sideA_a": diameter / 400, "sideB_a": diameter / 400}
    return Straight(_area(diameter), length, head, head), {"horizontal": False, **ends}


def _torispherical(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    head = Torispherical(diameter)
    ends = {"sideA": "torispherical", "sideB": "torispherical", "sideA_f": 1.0, "sideA_k": 0.06}
    return Straight(_area(diameter), length, head, head), {"horizontal": False, **ends, "sideB_f": 1.0, "sideB_k": 0.06}


def _lying(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    return Lying(diameter, length), {"horizontal": True}


def _lying_ellipsoidal(diameter: float, length: float, _: float) -> tuple[Shape, dict[str, Any]]:
    ends = {"sideA": "ellipsoidal", "sideB": "ellipsoidal", "sideA_a": diameter / 400, "sideB_a": diameter / 400}
    return Lying(diameter, length, diameter / 4), {"horizontal": True, **ends}


SHAPES: dict[str, Build] = {
    "upright": _upright,
    "cone bottom": _cone,
    "hemispherical bottom": _hemispherical,
    "ellipsoidal ends": _ellipsoidal,
    "torispherical ends": _torispherical,
    "lying": _lying,
    "lying, ellipsoidal ends": _lying_ellipsoidal,
}

# Source: fluids 1.3.1, TANK(D=1, L=2, ...).V_from_h(h), m and m3; recomputed in the next test.
TABLE = [
    ("upright", 0.5, 0.3926990817),
    ("upright", 1.0, 0.7853981634),
    ("lying", 0.1, 0.0817505544),
    ("lying", 0.25, 0.3070924247),
    ("lying", 0.5, 0.7853981634),
    ("lying", 0.75, 1.2637039021),
    ("lying, ellipsoidal ends", 0.25, 0.3479985790),
    ("lying, ellipsoidal ends", 0.5, 0.9162978573),
    ("cone bottom", 0.25, 0.0163624617),
    ("cone bottom", 0.5, 0.1308996939),
    ("cone bottom", 1.0, 0.5235987756),
    ("hemispherical bottom", 0.25, 0.0818123087),
    ("hemispherical bottom", 0.5, 0.2617993878),
    ("ellipsoidal ends", 0.125, 0.0409061543),
    ("ellipsoidal ends", 1.25, 0.9162978573),
    ("torispherical ends", 0.1, 0.0303687290),
    ("torispherical ends", 1.0, 0.7333997169),
]

TOTALS = {
    "upright": 1.5707963268,
    "lying": 1.5707963268,
    "lying, ellipsoidal ends": 1.8325957145,
    "cone bottom": 1.7016960207,
    "hemispherical bottom": 1.8325957146,
    "ellipsoidal ends": 1.8325957145,
    "torispherical ends": 1.7327943354,
}


@pytest.mark.parametrize(("name", "level_m", "volume_m3"), TABLE)
def test_table_of_volumes_both_ways(name: str, level_m: float, volume_m3: float) -> None:
    """Every row of the published set holds from level to volume and back."""
    shape, _ = SHAPES[name](100, 200, 50)
    assert shape.volume(100 * level_m) / 1000 == pytest.approx(volume_m3, rel=1e-8, abs=1e-10)
    assert shape.level(PLAIN, 1000 * volume_m3) / 100 == pytest.approx(level_m, abs=1e-8)


@pytest.mark.parametrize("name", SHAPES)
def test_total_volume(name: str) -> None:
    """A tank of D = 1 m, L = 2 m holds what the reference library says."""
    shape, _ = SHAPES[name](100, 200, 50)
    assert shape.capacity / 1000 == pytest.approx(TOTALS[name], rel=1e-9)


@pytest.mark.parametrize("name", SHAPES)
@settings(max_examples=15, deadline=None)
@given(st.data())
def test_any_tank_against_the_reference_library(name: str, data: st.DataObject) -> None:
    """Any dimensions, any level: volume within 1e-9 of itself, level within 1e-9 of the height.

    The last thousandth is left out: there rounding alone moves the reference's volume by more.
    Source: fluids.TANK, after D. Jones, "Computing fluid tank volumes".
    """
    diameter = data.draw(st.floats(20, 800), "diameter, cm")
    length = diameter * data.draw(st.floats(0.3, 10), "length, diameters")
    depth = diameter * data.draw(st.floats(0.05, 2), "cone, diameters")
    shape, arguments = SHAPES[name](diameter, length, depth)
    reference = fluids.TANK(D=diameter / 100, L=length / 100, **arguments)
    assert shape.height / 100 == pytest.approx(reference.h_max, rel=1e-9)
    for share in data.draw(st.lists(st.floats(0.001, 0.999), min_size=3, max_size=6), "level, share of the height"):
        litres = 1000 * reference.V_from_h(share * reference.h_max)
        assert shape.volume(share * shape.height) == pytest.approx(litres, rel=1e-9)
        assert shape.level(PLAIN, litres) == pytest.approx(share * shape.height, abs=1e-9 * shape.height)


@pytest.mark.parametrize("name", SHAPES)
def test_level_never_falls_while_volume_rises(name: str) -> None:
    """Level rises with volume from empty to brim, across every joint of the pieces."""
    shape, _ = SHAPES[name](100, 200, 50)
    levels = [shape.level(PLAIN, shape.capacity * (k / 5000)) for k in range(5001)]
    assert all(low <= high + 1e-9 for low, high in pairwise(levels))
    assert levels[0] == pytest.approx(0, abs=1e-9)
    assert levels[-1] == pytest.approx(shape.height, rel=1e-9)


def test_a_published_worked_example_of_ellipsoidal_ends() -> None:
    """D = 108 in, L = 156 in, a = 42 in, h = 36 in holds 2380.96 gal (Jones, quoted by the library; from memory)."""
    inch = 2.54
    shape = Lying(108 * inch, 156 * inch, 42 * inch)
    cubic_inches = shape.volume(36 * inch) * 1000 / inch**3
    assert cubic_inches / 231 == pytest.approx(2380.96, abs=0.01)


@given(st.floats(0, 1))
def test_cube_root(x: float) -> None:
    """The cube root from square roots and quotients agrees with the library's."""
    assert cube_root(PLAIN, x) == pytest.approx(math.cbrt(x), rel=1e-12, abs=1e-12)


def test_rectangular_tank(part: Callable[..., Part]) -> None:
    """A trough of 2 m by 50 cm rises 1 mm per litre."""
    trough = part("tank trough rectangular, length 2 m, width 50 cm, height 60 cm, starts at 30 cm")
    assert trough.variables[0].start == pytest.approx(300)
    assert trough.look(PLAIN, {"volume": 123.0}, {})["level"] == pytest.approx(12.3)
