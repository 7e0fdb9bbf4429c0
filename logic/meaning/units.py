"""Units: what may stand after a number, their dimensions, and exact ratios between them.

The table is our own and exact, because importing a unit library costs more time than
checking a whole project; a test compares every row with pint. Pint itself is asked, once
and lazily, about a unit that the table does not know (`units_nearest`).

Definitions: the International System of Units (BIPM, SI Brochure, 9th edition, 2019):
base units in 2.3.1, prefixes in table 7, minute, hour, day, litre and tonne in table 8.
Inch and foot: exactly 25.4 mm and 304.8 mm. Bar: exactly 100 kPa. Psi: pound-force (0.45359237 kg
times 9.80665 m/s2) per square inch.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

Dimension = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as the user wrote it.

    `dimension` maps base dimensions to powers, sorted, empty for a pure number (`%` is a
    unit of its own dimension-free kind with ratio 1/100). `ratio` is the exact size of one
    of this unit in base units: 1 cm is 1/100 of the metre.
    """

    symbol: str
    dimension: Dimension
    ratio: Fraction

    def __hash__(self) -> int:
        # The ratio's hash costs more than all the rest of reading a rung.
        return hash(self.symbol)


def _powers(**powers: int) -> Dimension:
    return tuple(sorted(powers.items()))


_LENGTH = _powers(m=1)
_VOLUME = _powers(m=3)
_TIME = _powers(s=1)
_MASS = _powers(kg=1)
_CURRENT = _powers(A=1)
_VOLTAGE = _powers(kg=1, m=2, s=-3, A=-1)
_POWER = _powers(kg=1, m=2, s=-3)
_ENERGY = _powers(kg=1, m=2, s=-2)
_PRESSURE = _powers(kg=1, m=-1, s=-2)
_FORCE = _powers(kg=1, m=1, s=-2)
_RESISTANCE = _powers(kg=1, m=2, s=-3, A=-2)
_CONDUCTANCE = _powers(kg=-1, m=-2, s=3, A=2)
_RATE = _powers(s=-1)

_MILLI, _MICRO, _KILO, _MEGA = Fraction(1, 1000), Fraction(1, 10**6), Fraction(1000), Fraction(10**6)
_PSI = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2

#: The single symbols; powers, products and quotients of them are units too.
#: A degree Celsius is a reading, not a difference: it converts into nothing, and
#: differences of temperature stand in K. Revolutions count as pure numbers.
SYMBOLS: Mapping[str, tuple[Dimension, Fraction]] = {
    "m": (_LENGTH, Fraction(1)),
    "km": (_LENGTH, _KILO),
    "cm": (_LENGTH, Fraction(1, 100)),
    "mm": (_LENGTH, _MILLI),
    "um": (_LENGTH, _MICRO),
    "inch": (_LENGTH, Fraction("0.0254")),
    "ft": (_LENGTH, Fraction("0.3048")),
    "L": (_VOLUME, _MILLI),
    "hL": (_VOLUME, Fraction(1, 10)),
    "mL": (_VOLUME, _MICRO),
    "s": (_TIME, Fraction(1)),
    "ms": (_TIME, _MILLI),
    "us": (_TIME, _MICRO),
    "min": (_TIME, Fraction(60)),
    "h": (_TIME, Fraction(3600)),
    "d": (_TIME, Fraction(86400)),
    "kg": (_MASS, Fraction(1)),
    "g": (_MASS, _MILLI),
    "mg": (_MASS, _MICRO),
    "t": (_MASS, _KILO),
    "A": (_CURRENT, Fraction(1)),
    "mA": (_CURRENT, _MILLI),
    "uA": (_CURRENT, _MICRO),
    "V": (_VOLTAGE, Fraction(1)),
    "mV": (_VOLTAGE, _MILLI),
    "kV": (_VOLTAGE, _KILO),
    "W": (_POWER, Fraction(1)),
    "kW": (_POWER, _KILO),
    "MW": (_POWER, _MEGA),
    "J": (_ENERGY, Fraction(1)),
    "kJ": (_ENERGY, _KILO),
    "Wh": (_ENERGY, Fraction(3600)),
    "kWh": (_ENERGY, Fraction(3_600_000)),
    "Pa": (_PRESSURE, Fraction(1)),
    "hPa": (_PRESSURE, Fraction(100)),
    "kPa": (_PRESSURE, _KILO),
    "MPa": (_PRESSURE, _MEGA),
    "bar": (_PRESSURE, Fraction(100_000)),
    "mbar": (_PRESSURE, Fraction(100)),
    "psi": (_PRESSURE, _PSI),
    "N": (_FORCE, Fraction(1)),
    "kN": (_FORCE, _KILO),
    "Nm": (_ENERGY, Fraction(1)),
    "Ohm": (_RESISTANCE, Fraction(1)),
    "kOhm": (_RESISTANCE, _KILO),
    "S": (_CONDUCTANCE, Fraction(1)),
    "mS": (_CONDUCTANCE, _MILLI),
    "uS": (_CONDUCTANCE, _MICRO),
    "K": (_powers(K=1), Fraction(1)),
    "degC": (_powers(degC=1), Fraction(1)),
    "Hz": (_RATE, Fraction(1)),
    "kHz": (_RATE, _KILO),
    "rpm": (_RATE, Fraction(1, 60)),
    "%": ((), Fraction(1, 100)),
    "ppm": ((), _MICRO),
}

_FACTOR = re.compile(r"([A-Za-zµΩ%]+)(-?[0-9])?\Z")
_LONGEST_SYMBOL = 60
_SPELLINGS = str.maketrans({"µ": "u", "μ": "u", "²": "2", "³": "3", "^": "", "*": "·"})


def factors_of(symbol: str) -> dict[str, int] | None:
    """The single symbols of a unit and their powers: `L/min` is `{"L": 1, "min": -1}`.

    None where a part of it is unknown or misspelt.
    """
    factors: dict[str, int] = {}
    if len(symbol) > _LONGEST_SYMBOL:
        return None
    for index, chunk in enumerate(symbol.translate(_SPELLINGS).split("/")):
        for part in chunk.split("·"):
            if index == 0 and part == "1":
                continue
            match = _FACTOR.match(part)
            if match is None or match[1] not in SYMBOLS:
                return None
            power = int(match[2] or 1) * (-1 if index else 1)
            factors[match[1]] = factors.get(match[1], 0) + power
    return factors


def _spell(factors: Mapping[str, int]) -> str:
    above = [name + (str(power) if power > 1 else "") for name, power in factors.items() if power > 0]
    below = [name + (str(-power) if power < -1 else "") for name, power in factors.items() if power < 0]
    return "/".join(["·".join(above) or "1", *below])


def _build(symbol: str, factors: Mapping[str, int]) -> Unit:
    dimension: dict[str, int] = {}
    ratio = Fraction(1)
    for name, power in factors.items():
        bases, size = SYMBOLS[name]
        ratio *= size**power
        for base, base_power in bases:
            dimension[base] = dimension.get(base, 0) + base_power * power
    return Unit(symbol, tuple(sorted((b, p) for b, p in dimension.items() if p)), ratio)


@lru_cache(maxsize=4096)
def parse_unit(symbol: str) -> Unit | None:
    """The unit of a token such as `L`, `cm2`, `L/min`, `%`; None if it is not one."""
    factors = factors_of(symbol)
    return None if factors is None else _build(symbol, factors)


def known_unit(symbol: str) -> Unit:
    """As `parse_unit`, for symbols that stand in our own code. Raises `KeyError` if unknown."""
    unit = parse_unit(symbol)
    if unit is None:
        raise KeyError(symbol)
    return unit


def _combine(left: Unit | None, right: Unit | None, sign: int) -> Unit | None:
    factors = dict(factors_of(left.symbol) or {}) if left else {}
    for name, power in ((factors_of(right.symbol) or {}) if right else {}).items():
        factors[name] = factors.get(name, 0) + sign * power
    factors = {name: power for name, power in factors.items() if power}
    unit = _build(_spell(factors), factors)
    return None if not unit.dimension and unit.ratio == 1 else unit


@lru_cache(maxsize=4096)
def product(left: Unit | None, right: Unit | None) -> Unit | None:
    """The unit of a product: cm2 times cm is cm3, V/L times L is V; None is a pure number."""
    return _combine(left, right, 1)


@lru_cache(maxsize=4096)
def quotient(left: Unit | None, right: Unit | None) -> Unit | None:
    """The unit of a quotient: L by min is L/min, L by L a pure number."""
    return _combine(left, right, -1)


@lru_cache(maxsize=4096)
def root(unit: Unit) -> Unit | None:
    """The unit of a square root: cm2 gives cm. None where a symbol's power is odd."""
    factors = factors_of(unit.symbol) or {}
    if all(power % 2 == 0 for power in factors.values()):
        halved = {name: power // 2 for name, power in factors.items()}
        return _build(_spell(halved), halved)
    return None


def dimension_of(unit: Unit | None) -> Dimension:
    return unit.dimension if unit else ()


def same_dimension(left: Unit | None, right: Unit | None) -> bool:
    """Whether one converts into the other; a pure number and `%` do."""
    return dimension_of(left) == dimension_of(right)


def ratio_between(source: Unit | None, target: Unit | None) -> Fraction:
    """What a value in `source` is multiplied by to stand in `target`, exactly.

    Raises `ValueError` where the dimensions differ.
    """
    if not same_dimension(source, target):
        raise ValueError(f"{source} does not convert into {target}")
    return (source.ratio if source else Fraction(1)) / (target.ratio if target else Fraction(1))


def convert(value: Fraction | float, source: str, target: str) -> float | None:
    """A value of one unit in another, rounded once; None where a unit is unknown or does not fit."""
    from_unit, to_unit = parse_unit(source), parse_unit(target)
    if from_unit is None or to_unit is None or from_unit.dimension != to_unit.dimension:
        return None
    return float(Fraction(value) * from_unit.ratio / to_unit.ratio)


def name_of(unit: Unit | None) -> str:
    """The symbol, or words for a number without one."""
    return unit.symbol if unit else "a plain number"
