"""What a mistyped or foreign unit most likely meant."""

from __future__ import annotations

import re
from difflib import get_close_matches
from fractions import Fraction
from functools import lru_cache
from importlib import import_module
from typing import Any

from rungproof.logic.meaning.units import SYMBOLS, parse_unit

#: How people write units in words and habits, and the symbol for it.
_SPOKEN = {
    "litre litres liter liters ltr lit l": "L",
    "millilitre millilitres milliliter milliliters ml": "mL",
    "second seconds sec secs": "s",
    "millisecond milliseconds msec msecs millis": "ms",
    "minute minutes mins mn": "min",
    "hour hours hr hrs": "h",
    "day days": "d",
    "metre metres meter meters mtr": "m",
    "centimetre centimetres centimeter centimeters": "cm",
    "millimetre millimetres millimeter millimeters": "mm",
    "inches in": "inch",
    "foot feet": "ft",
    "gram grams gr gm": "g",
    "kilogram kilograms kilo kilos kgs": "kg",
    "tonne tonnes": "t",
    "volt volts vdc": "V",
    "millivolt millivolts": "mV",
    "amp amps ampere amperes": "A",
    "milliamp milliamps milliampere milliamperes ma": "mA",
    "watt watts": "W",
    "kilowatt kilowatts": "kW",
    "pascal pascals": "Pa",
    "ohm ohms": "Ohm",
    "kelvin kelvins": "K",
    "celsius centigrade c deg": "degC",
    "hertz": "Hz",
    "percent pct per": "%",
    "lpm": "L/min",
    "cc ccm": "cm3",
    "cbm": "m3",
    "sqm": "m2",
    "sqcm": "cm2",
}
_MEANT = {word: symbol for words, symbol in _SPOKEN.items() for word in words.split()}
_FOLDED = {symbol.lower(): symbol for symbol in reversed(tuple(SYMBOLS))}
_PART = re.compile(r"([^\W\d_]+|%)(\d?)\Z")
_LONGEST_WORD = 20


def _nearest_part(part: str) -> str | None:
    match = _PART.match(part)
    if match is None:
        return None
    word, power = match[1], match[2]
    if word in SYMBOLS:
        return part
    found = _MEANT.get(word.lower()) or _FOLDED.get(word.lower())
    if found is None and len(word) > 1:
        found = next(iter(get_close_matches(word, SYMBOLS, n=1, cutoff=0.7)), None)
    return None if found is None else found + power


@lru_cache(maxsize=256)
def nearest_unit(symbol: str) -> str | None:
    """The known unit that `symbol` most likely meant: `litres` gives L, `l/mins` gives L/min."""
    parts = symbol.replace("°", "deg").split("/")
    found = [_nearest_part(part) for part in parts[:3]]
    if len(parts) > len(found) or any(part is None for part in found):
        return None
    candidate = "/".join(part for part in found if part is not None)
    return candidate if candidate != symbol and parse_unit(candidate) else None


@lru_cache(maxsize=1)
def _registry() -> Any:
    # Half a second: paid only by a file that holds a unit we do not know.
    return import_module("pint").UnitRegistry(non_int_type=Fraction)


@lru_cache(maxsize=64)
def foreign_unit(symbol: str) -> tuple[str, float] | None:
    """A unit that exists, but not in this language: one of ours of its kind, and its size in it.

    `furlong` gives `("m", 201.168...)`. None where no unit of that name is known at all.
    """
    if not symbol.isascii() or not symbol.isalpha() or len(symbol) > _LONGEST_WORD:
        return None
    registry = _registry()
    if symbol not in registry:
        return None
    for ours in ("L", "m", "s", "kg", "bar", "kW", "kJ", "N", "V", "A", "K"):
        theirs = registry.Quantity(Fraction(1), symbol)
        if theirs.is_compatible_with(ours) and theirs.units.dimensionality:
            return ours, float(theirs.to(ours).magnitude)
    return None
