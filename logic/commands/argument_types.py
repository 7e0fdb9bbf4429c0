"""What an argument of the command line may be. Each reads a text, or raises `ArgumentTypeError` with words."""

from __future__ import annotations

import argparse
import math
import re

_MS = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000}


def time_ms(text: str) -> int:
    """`5 min`, `20s`, `1.5 h` in whole milliseconds, at least 1."""
    match = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(ms|s|min|h)\s*", text)
    if match is None or not 1 <= float(match[1]) * _MS[match[2]] < 1e12:
        raise argparse.ArgumentTypeError(f"{text!r} is no time; write a number and a unit, such as 20s or '5 min'")
    return round(float(match[1]) * _MS[match[2]])


def _number(text: str, most: float, words: str) -> float:
    """A number above 0 and up to `most`; `words` say what it is of."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value <= most or math.isinf(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no {words}")
    return value


def seconds(text: str) -> float:
    """A number of seconds above 0."""
    return _number(text, math.inf, "number of seconds above 0")


def plant_hours(text: str) -> float:
    """A number of hours above 0, up to a million."""
    return _number(text, 1e6, "number of hours above 0, up to 1000000")


def path(text: str) -> str:
    """Any path that could be one; an empty one would mean the folder one stands in."""
    if not text.strip() or "\0" in text:
        raise argparse.ArgumentTypeError(f"{text!r} is no path; `.` is the folder you are in")
    return text


def columns(text: str) -> int:
    """A width from 40 to 1000 columns."""
    if not text.isdecimal() or not 40 <= int(text) <= 1000:
        raise argparse.ArgumentTypeError(f"{text!r} is no width from 40 to 1000 columns")
    return int(text)


def proof_seconds(text: str) -> float:
    """Seconds; 0 leaves proofs out."""
    return 0.0 if text == "0" else seconds(text)


def percent(text: str) -> float:
    """A share in percent, above 0 and up to 25."""
    return _number(text, 25, "percentage above 0, up to 25")


def seed(text: str) -> int:
    """A whole number from 0 to 10^9."""
    if not text.isdecimal() or int(text) > 10**9:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 0 to 1000000000")
    return int(text)
