"""Times and counts as people say them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.checks.words import many, span_words, time_parts, time_words

MS = {"ms": 1, "s": 1000, "min": 60_000}


@pytest.mark.parametrize(
    ("ms", "words"),
    [
        (0, "0 s"),
        (1, "1 ms"),
        (999, "999 ms"),
        (1000, "1 s"),
        (1250, "1.25 s"),
        (1001, "1.001 s"),
        (60_000, "1 min"),
        (90_000, "90 s"),
        (300_000, "5 min"),
    ],
)
def test_times_read_as_people_write_them(ms: int, words: str) -> None:
    """A time is said in the largest unit that says it exactly and shortly."""
    assert time_words(ms) == words


@given(st.integers(0, 10**9))
def test_no_millisecond_is_lost(ms: int) -> None:
    """The number and the unit give back the very same milliseconds."""
    number, unit = time_parts(ms)
    assert Fraction(number) * MS[unit] == ms


def test_long_spans_are_rounded_for_reading() -> None:
    """A span names hours, minutes or seconds, whichever is at least two."""
    assert [span_words(ms) for ms in (500, 5_400, 7_200_000, 150_000)] == ["500 ms", "5.4 s", "2 h", "2.5 min"]


def test_counts_bend_their_noun() -> None:
    """One run, two runs, a thousand with its comma."""
    assert [many(n, "run") for n in (1, 2, 1000)] == ["1 run", "2 runs", "1,000 runs"]
