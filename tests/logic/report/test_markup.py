"""Markup: whatever text comes, letters come out."""

from __future__ import annotations

import unicodedata
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.report.markup import MOST_SHOWN, element, own, prose, section, table, text


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
    assert "the file has 10,000 characters" in shown


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


def test_what_is_typed_stands_as_code_in_the_words_of_a_page() -> None:
    """Backticks open and close code; a single one is a letter like others; nothing is cut."""
    assert prose("run `a --b` now") == "run <code><bdi>a --b</bdi></code> now"
    assert prose("a ` b") == "a ` b"
    assert prose("<i> `<b>`") == "&lt;i&gt; <code><bdi>&lt;b&gt;</bdi></code>"
    assert prose("x" * 2000).count("x") == 2000


def test_a_figure_and_its_unit_stay_together_in_a_table() -> None:
    """No narrow cell parts 300 from ms; words after a figure may go to the next line."""
    made = table([text("a")], [[text("after 300 ms, 5 %, 3 minutes")]], "A")
    assert "after 300\xa0ms, 5\xa0%, 3 minutes" in made


def test_a_heading_stays_with_the_paragraph_below_it() -> None:
    """On paper no heading is left alone at the foot of a page."""
    made = section("a", "Title", [element("p", text("one")), element("p", text("two"))])
    assert '<div class="start"><h2 id="a-title">Title</h2><p>one</p></div><p>two</p>' in made
