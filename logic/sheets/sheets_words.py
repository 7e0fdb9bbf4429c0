"""Cells of the sheets in words, the same on paper and in the tables."""

from __future__ import annotations

from rungproof.logic.checks.words import rounded, time_words
from rungproof.logic.report.page import figure_words
from rungproof.logic.sheets.cause_effect import Cell, Effect
from rungproof.logic.sheets.readings import Band, Reading
from rungproof.logic.sheets.steps import value_words


def cell_words(effect: Effect, cell: Cell) -> tuple[str, str]:
    """What comes while the cause stands, and what comes of its going; both empty for an empty cell."""
    if cell.empty:
        return "", ""
    shown = value_words(effect, cell.value).removeprefix("at ")
    if cell.after_ms is None:
        return "", f"when it goes: {shown} {time_words(cell.back_ms or 0)}"
    first = f"{shown} {time_words(cell.after_ms) if cell.after_ms else 'at once'}"
    if not cell.held:
        return first, "for a while"
    if cell.stays:
        return first, "stays"
    return first, f"back {time_words(cell.back_ms)}" if cell.back_ms is not None else ""


def shown_words(reading: Reading) -> str:
    """`distance 50 ±0.7 cm; volume 240.29 ±1.98 L`."""
    return "; ".join(
        f"{each.tag} {figure_words(each.value)} ±{rounded(each.tolerance, 3)} {each.unit}".rstrip()
        for each in reading.shows
    )


def band_words(band: Band | None) -> str:
    """`5 V`, and the limits beside it where there are any: `5 V (4.93..5.07)`."""
    if band is None:
        return "\N{EN DASH}"
    shown = figure_words(band.expected, band.unit)
    if band.low is None or band.high is None or band.low == band.high:
        return shown
    return f"{shown} ({figure_words(band.low)}..{figure_words(band.high)})"
