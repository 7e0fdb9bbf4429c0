"""Wrapping: words stay whole, numbers keep their units."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.evidence.wrapping import wrap


def test_a_number_keeps_its_unit() -> None:
    """`5 L` is never parted; `PR1 must` is, because the digit belongs to a name."""
    assert wrap("target - 5 L", 10) == ["target -", "5 L"]
    assert wrap("event, PR1 must", 10) == ["event, PR1", "must"]
    assert wrap("in 12 runs", 5) == ["in 12", "runs"]


@given(text=st.text(alphabet=st.sampled_from("ab1 2%.-L")), width=st.integers(1, 30))
def test_no_word_is_lost_or_broken(text: str, width: int) -> None:
    """Joined again the rows are the text, but for blanks; a row is too wide only where it must be."""
    rows = wrap(text, width)
    assert " ".join(rows).split() == text.split()
    for row in rows:
        pieces = re.split(r"(?<![0-9.]) ", row)
        assert len(row) <= width or len(pieces) == 1
