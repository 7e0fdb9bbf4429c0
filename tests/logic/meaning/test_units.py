"""Units: every row of the table against an outside library, and the algebra by its laws."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from functools import cache
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.meaning.units import (
    SYMBOLS,
    convert,
    known_unit,
    parse_unit,
    product,
    quotient,
    ratio_between,
    root,
    same_dimension,
)
from rungproof.logic.meaning.units_nearest import foreign_unit, nearest_unit

# Where pint's name for a unit differs from its symbol in the trade. Pint counts a
# revolution as an angle (2 pi) and a degree Celsius as a reading with an offset; here
# revolutions are pure numbers and degC stands alone, so both are left out.
_IN_PINT = {"Ohm": "ohm", "kOhm": "kiloohm", "%": "percent", "Nm": "newton*meter", "t": "metric_ton"}
_NOT_COMPARABLE = {"rpm", "degC"}

symbols = st.sampled_from(sorted(SYMBOLS))


@cache
def registry() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize("symbol", sorted(set(SYMBOLS) - _NOT_COMPARABLE))
def test_every_symbol_has_the_size_that_pint_gives_it(symbol: str) -> None:
    """A unit's dimension and exact ratio to base units are pint's (pint, its default registry)."""
    theirs = registry().Quantity(Fraction(1), _IN_PINT.get(symbol, symbol)).to_base_units()
    ours = known_unit(symbol)
    bases = {"m": "[length]", "kg": "[mass]", "s": "[time]", "A": "[current]", "K": "[temperature]"}
    assert {bases[base]: power for base, power in ours.dimension} == dict(theirs.dimensionality)
    assert theirs.magnitude == ours.ratio


def test_revolutions_per_minute_are_sixtieths_of_a_hertz() -> None:
    """60 rpm is one revolution in a second (common practice, no source)."""
    assert convert(60, "rpm", "Hz") == 1.0


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        (1, "m3", "L", 1000.0),
        (1, "h", "ms", 3_600_000.0),
        (12, "L/min", "m3/h", 0.72),
        (50, "%", "%", 50.0),
        (1, "bar", "kPa", 100.0),
        (2827, "cm3", "L", 2.827),
        (1, "kWh", "kJ", 3600.0),
        (10, "mS/cm", "S/m", 1.0),
    ],
)
def test_conversions_are_rounded_once(value: int, source: str, target: str, expected: float) -> None:
    """A converted value is the double nearest to the exact one (SI Brochure, 9th ed., tables 7 and 8)."""
    assert convert(value, source, target) == expected


@pytest.mark.parametrize(("source", "target"), [("L", "cm"), ("degC", "K"), ("V", "mA"), ("wug", "L"), ("%", "L")])
def test_what_does_not_convert_gives_nothing(source: str, target: str) -> None:
    """Different dimensions and unknown units give None, not a number."""
    assert convert(1, source, target) is None


@given(symbols, symbols)
def test_ratios_there_and_back_are_exact(first: str, second: str) -> None:
    """Converting there and back multiplies by exactly 1."""
    a, b = known_unit(first), known_unit(second)
    if same_dimension(a, b):
        assert ratio_between(a, b) * ratio_between(b, a) == 1


@given(symbols, symbols)
def test_a_product_has_both_dimensions_and_sizes(first: str, second: str) -> None:
    """The size of a product is the product of the sizes, and dividing gives the first factor back."""
    a, b = known_unit(first), known_unit(second)
    both = product(a, b)
    assert (both.ratio if both else 1) == a.ratio * b.ratio
    back = quotient(both, b)
    assert (back.ratio if back else 1) == a.ratio
    assert same_dimension(back, a)


@given(symbols, symbols)
def test_a_products_symbol_reads_back_as_the_same_unit(first: str, second: str) -> None:
    """What is printed for a product or quotient is itself a unit, and the same one."""
    for unit in (product(known_unit(first), known_unit(second)), quotient(known_unit(first), known_unit(second))):
        if unit is not None:
            again = parse_unit(unit.symbol)
            assert again is not None
            assert (again.dimension, again.ratio) == (unit.dimension, unit.ratio)


@given(symbols, st.integers(1, 4))
def test_the_root_of_a_square_is_the_unit(symbol: str, power: int) -> None:
    """sqrt of cm2 is cm; an odd power has no root."""
    unit = known_unit(f"{symbol}{power}" if power > 1 else symbol)
    found = root(unit)
    if power % 2:
        assert found is None
    else:
        assert found is not None
        assert found.ratio**2 == unit.ratio


def test_products_are_spelt_as_the_trade_writes_them() -> None:
    """cm2 times cm is cm3, V/L times L is V, L/min keeps its look."""
    spelt = [product(known_unit("cm2"), known_unit("cm")), product(known_unit("V/L"), known_unit("L"))]
    assert [unit.symbol if unit else "" for unit in spelt] == ["cm3", "V"]
    assert quotient(known_unit("L"), known_unit("L")) is None
    assert quotient(known_unit("L"), known_unit("min")) == known_unit("L/min")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("litres", "L"),
        ("l", "L"),
        ("l/min", "L/min"),
        ("sec", "s"),
        ("secs", "s"),
        ("RPM", "rpm"),
        ("Sec", "s"),
        ("lpm", "L/min"),
        ("volts", "V"),
        ("kw", "kW"),
        ("°C", "degC"),
        ("litres/hour", "L/h"),
        ("Kpa", "kPa"),
        ("mins", "min"),
    ],
)
def test_a_slip_of_the_pen_leads_to_the_unit_that_was_meant(written: str, meant: str) -> None:
    """Spelt-out names, wrong letter case and small typing errors find the symbol (common practice, no source)."""
    assert parse_unit(written) is None
    assert nearest_unit(written) == meant


def test_a_unit_from_elsewhere_is_named_by_its_size_in_ours() -> None:
    """A furlong exists: 201.168 m (660 ft of 0.3048 m); a wug does not."""
    found = foreign_unit("furlong")
    assert found is not None
    assert found[0] == "m"
    assert found[1] == pytest.approx(201.168, rel=1e-5)
    assert foreign_unit("wug") is None


def test_no_unit_of_the_table_needs_pint() -> None:
    """The table is complete in itself: reading a unit never loads the library that tests it."""
    code = (
        "import sys; from rungproof.logic.meaning.units import parse_unit;"
        "assert parse_unit('L/min'); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
