"""Markup: whatever text comes, letters come out."""

from __future__ import annotations

import unicodedata
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.report.markup import MOST_SHOWN, element, own, table, text


@given(st.text(max_size=60))
def test_text_is_never_markup_and_says_what_it_was(said: str) -> None:
    """No sign of a text opens an element or leaves an attribute, and what can be seen reads back."""
    shown = text(said)
    assert not set(shown) & set("<>\"'")
    if all(unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") for sign in said):
        assert unescape(shown) == said


@pytest.mark.parametrize("sign", ["\u202e", "\u2066", "\u200f", "\u200b", "\ufeff", "\x00", "\x1b", "\x85", "\ud800"])
def test_signs_that_nobody_sees_are_shown_by_their_number(sign: str) -> None:
    """What would turn the direction of writing, hide or break is shown as its number, and not obeyed."""
    shown = own(f"a{sign}b")
    assert sign not in shown
    assert f"[U+{ord(sign):04X}]" in shown
    shown.encode("utf-8")


def test_a_long_text_is_cut_and_says_so() -> None:
    """10,000 characters do not bury the page; the reader is told how many there are."""
    shown = text("x" * 10_000)
    assert shown.count("x") == MOST_SHOWN
    assert "10,000 signs in the file" in shown


def test_attributes_are_escaped() -> None:
    """An attribute's text cannot leave its quotes."""
    assert element("a", text("x"), href='"><script>') == '<a href="&quot;&gt;&lt;script&gt;">x</a>'


def test_a_table_has_a_caption_and_heads_of_rows_and_columns() -> None:
    """A screen reader finds the caption, the heads of columns and the heads of rows."""
    made = table([text("Tag"), text("Value")], [[text("a"), text("1")]], "Values")
    assert "<caption>Values</caption>" in made
    assert made.count('scope="col"') == 2
    assert made.count('scope="row"') == 1
    assert 'role="region"' in made
