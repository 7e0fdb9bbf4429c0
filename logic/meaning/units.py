"""Units: what may stand after a number, their dimensions, and exact ratios between them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as the user wrote it.

    `dimension` maps base dimensions to powers, sorted, empty for a pure number (`%` is a
    unit of its own dimension-free kind with ratio 1/100). `ratio` is the exact size of one
    of this unit in base units: 1 cm is 1/100 of the metre.
    """

    symbol: str
    dimension: tuple[tuple[str, int], ...]
    ratio: Fraction
