"""Wrapping text as people read it: never between a number and its unit."""

from __future__ import annotations

import re
import textwrap

KEPT = "\N{NO-BREAK SPACE}"
_WORDS = "and|or|between|at|in|of|so|then|until|later|runs?|times?"
_NUMBER_AND_UNIT = re.compile(rf"(?<![A-Za-z0-9_.])([0-9][0-9.]*) (?!(?:{_WORDS})\b)(?=[A-Za-z%°µ])")


def with_units(text: str) -> str:
    """`text` in which a blank between a number and its unit is one that does not break."""
    return _NUMBER_AND_UNIT.sub(rf"\1{KEPT}", text)


def wrap(text: str, width: int) -> list[str]:
    """Rows of at most `width` columns; a longer word keeps a row of its own. Never empty."""
    rows = textwrap.wrap(with_units(text), max(width, 1), break_long_words=False, break_on_hyphens=False)
    return [row.replace(KEPT, " ") for row in rows] or [""]
