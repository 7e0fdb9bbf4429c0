"""Wrapping text as people read it: never between a number and its unit."""

from __future__ import annotations

import re
import textwrap

_KEPT = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = re.compile(
    r"(?<=[0-9]) (?!(?:and|or|between|at|in|of|so|then|until|later|runs?|times?)\b)(?=[A-Za-z%°µ])"
)


def wrap(text: str, width: int) -> list[str]:
    """Rows of at most `width` columns; a longer word keeps a row of its own. Never empty."""
    kept = _BEFORE_UNIT.sub(_KEPT, text)
    rows = textwrap.wrap(kept, max(width, 1), break_long_words=False, break_on_hyphens=False)
    return [row.replace(_KEPT, " ") for row in rows] or [""]
