"""Unique-cause pairs against published examples: the tutorial NASA/TM-2001-210876 (values from memory, recomputed)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.coverage.pairs import Outcome, Row, row_text, rows_of, shown, unique_cause_pairs


def texts(outcome: Outcome, conditions: int) -> list[list[str]]:
    return [[f"{row_text(a)}/{row_text(b)}" for a, b in each] for each in unique_cause_pairs(outcome, conditions)]


def smallest_sets(outcome: Outcome, conditions: int) -> list[set[str]]:
    """All smallest choices of rows that show every condition, by trying them all."""
    pairs = unique_cause_pairs(outcome, conditions)
    rows = list(product((False, True), repeat=conditions))
    for size in range(1, len(rows) + 1):
        found = [c for c in combinations(rows, size) if all(shown(each, c) is not None for each in pairs)]
        if found:
            return [{row_text(row) for row in each} for each in found]
    return []


def test_a_and_b_or_c() -> None:
    """(A and B) or C: A 010/110, B 100/110, C three ways; four tests, in two sets."""

    def decision(row: Row) -> bool:
        return (row[0] and row[1]) or row[2]

    assert texts(decision, 3) == [["010/110"], ["100/110"], ["000/001", "010/011", "100/101"]]
    sets = smallest_sets(decision, 3)
    assert len(sets) == 2
    assert {"010", "011", "100", "110"} in sets and {"010", "100", "101", "110"} in sets


@dataclass(frozen=True)
class Published:
    """A decision: how many pairs each condition has, the smallest number of tests, and how many sets of so many."""

    decision: Outcome
    conditions: int
    pairs: int
    tests: int
    sets: int


PUBLISHED = {
    "(A or B) and (C or D)": Published(lambda r: (r[0] or r[1]) and (r[2] or r[3]), 4, 3, 5, 4),
    "two out of three": Published(lambda r: sum(r) >= 2, 3, 2, 4, 6),
}


@pytest.mark.parametrize("words", PUBLISHED)
def test_published_counts(words: str) -> None:
    """As the references count them."""
    row = PUBLISHED[words]
    assert [len(each) for each in unique_cause_pairs(row.decision, row.conditions)] == [row.pairs] * row.conditions
    smallest = smallest_sets(row.decision, row.conditions)
    assert (len(smallest[0]), len(smallest)) == (row.tests, row.sets)


@given(st.integers(1, 4), st.randoms(use_true_random=False))
def test_a_pair_differs_in_its_condition_and_in_the_outcome_alone(conditions: int, chance: object) -> None:
    """Of any truth table; and a condition without a pair never decides by itself."""
    table: dict[Row, bool] = {
        row: chance.random() < 0.5
        for row in product((False, True), repeat=conditions)  # type: ignore[attr-defined]
    }
    pairs = unique_cause_pairs(table.__getitem__, conditions)
    for place, each in enumerate(pairs):
        for off, on in each:
            assert [k for k in range(conditions) if off[k] != on[k]] == [place]
            assert table[off] != table[on] and not off[place]
        flips = [row for row in table if table[row] != table[(*row[:place], not row[place], *row[place + 1 :])]]
        assert len(flips) == 2 * len(each)
    assert rows_of(pairs) == tuple(sorted(rows_of(pairs)))
