"""Words of the trade that the language writes otherwise: each leads to what is written here."""

from __future__ import annotations

import re

import pytest
from rungproof.grammar import trade_words
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.grammar.parser import parse_text
from rungproof.grammar.reserved import RESERVED
from rungproof.logic.meaning.understand import understand_texts

RUNG = "rung run\n    {}\n    => z\n"
TAG = "tags\n    {}\n"
REQUIREMENT = 'requirement R1 "A"\n    {}\n'

#: The table, and a line in which its word stands.
TABLES = [
    (trade_words._PATHS, RUNG, "{} a"),
    (trade_words._PATHS, RUNG, "{} 5 s as hold"),
    (trade_words._OUTPUTS, RUNG, "=> {} a"),
    (trade_words._BETWEEN, RUNG, "a {} b"),
    (trade_words._BETWEEN, REQUIREMENT, "never a {} b"),
    (trade_words._ROLES, TAG, "a {} bool"),
    (trade_words._TYPES, TAG, "a memory {} 0..5"),
    (trade_words._KEEPING, TAG, "a memory bool = off {}"),
    (trade_words._KEEPING, RUNG, "on-delay 5 s as hold {}"),
    (trade_words._CLEARING, RUNG, "count-up 5 as n {} a"),
    (trade_words._CONNECTIVES, REQUIREMENT, "whenever a {} b"),
]
WORDS = [
    (block, line, word, mend)
    for table, block, line in TABLES
    for words, mend in table.items()
    for word in words.split()
    if not (word == "reset" and table is trade_words._CLEARING)
]


def _found(block: str, line: str) -> tuple[Diagnosis, ...]:
    reporter = Reporter(dict(CATALOGUE))
    parse_text(block.format(line), "a.rung", reporter)
    return reporter.sorted()


@pytest.mark.parametrize(
    ("block", "line", "word", "mend"), WORDS, ids=[f"{line}: {word}" for _, line, word, _ in WORDS]
)
def test_a_word_of_the_trade_leads_to_ours(block: str, line: str, word: str, mend: str) -> None:
    """Written with hyphens, underscores, blanks or nothing between its parts, in small letters and in large ones."""
    for joint in "-", "_", "":
        for written in word.replace("-", joint), word.replace("-", joint).upper():
            if written in RESERVED:
                continue
            (found,) = _found(block, line.format(written))
            assert (found.code, found.mend) == ("trade-word", mend), written
            assert found.message.startswith(f"`{written}`")


@pytest.mark.parametrize("words", [words for table, _, _ in TABLES for words in table])
def test_what_is_written_instead_is_of_the_language(words: str) -> None:
    """Whatever stands between back quotes in the mend reads without a mistake once its place-holders are filled."""
    (mend,) = {table[words] for table, _, _ in TABLES if words in table}
    filled = {
        "TIME": "5 s",
        "NAME": "x",
        "TAG": "a",
        "BUTTON": "b",
        "START": "s",
        "VALUE": "3",
        "N": "5",
        "A": "a",
        "B": "b",
    }
    for quoted in re.findall("`([^`]+)`", mend):
        text = re.sub(r"\b[A-Z]+\b", lambda found: filled[found[0]], quoted)
        lines = [
            (RUNG, text),
            (RUNG, f"=> a{text}"),
            (TAG, f"t memory bool {text}"),
            (TAG, f"t {text}"),
            (REQUIREMENT, text),
        ]
        lines += [(TAG, f"t {text} bool"), (TAG, f"t memory {text}"), (TAG, f"t memory {text} 0..1")]
        lines += [(RUNG, f"count-up 5 as n {text}"), (RUNG, f"{text} a"), (RUNG, f"=> {text} a")]
        lines += [(REQUIREMENT, f"whenever a {text} b"), (REQUIREMENT, f"whenever a then b {text}")]
        assert any(not _found(block, line) for block, line in lines), quoted


@pytest.mark.parametrize(
    "line", ["once or a", "once", "latch", "=> latch", "=> set hold", "once and not edge", "timer > 3"]
)
def test_a_tag_may_bear_such_a_word(line: str) -> None:
    """Only the grammar's own words are kept."""
    assert _found(RUNG, line) == ()


@pytest.mark.parametrize(
    ("name", "ours"), [("once", "; if it is meant as a word, write `rising TAG`"), ("furlong", "")]
)
def test_a_word_that_nobody_bears_is_answered_with_both_ways(name: str, ours: str) -> None:
    """It may be a tag that is missing, or a word; any other name is a tag that is missing."""
    head = 'controller "C" every 10 ms\n\ntags\n    a output bool\n\n'
    found = understand_texts({"a.rung": head + RUNG.format(name)}).diagnoses
    mend = next(each.mend or "" for each in found if each.code == "unknown-name")
    assert mend.startswith(f"add a line for it under `tags`{ours}")


def test_retentive_behind_a_type_is_no_unit() -> None:
    """`memory bool retentive` could be read as a unit; the tag is kept all the same, so nothing else is said."""
    text = 'controller "C" every 10 ms\n\ntags\n    a memory bool retentive\n\nrung r\n    not a\n    => a\n'
    (found, *others) = understand_texts({"a.rung": text}).diagnoses
    assert (found.code, [each.code for each in others if each.grade == "error"]) == ("trade-word", [])
