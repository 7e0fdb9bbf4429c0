"""The `.lark` files: no conflict, one list of words, one file per kind of line."""

from __future__ import annotations

import logging
import re
from importlib import resources
from pathlib import Path
from typing import get_args

import pytest
from lark import Lark, logger
from rungproof.grammar.line_parser import LineKind, grammar_path
from rungproof.grammar.reserved import EXPRESSION_WORDS, RESERVED

KINDS = get_args(LineKind)
EXPRESSION = grammar_path("expression")


def _conflicts(grammar: str, folder: Path, caplog: pytest.LogCaptureFixture) -> list[str]:
    """What lark says about conflicts. It resolves shift/reduce ones silently, and raises on the others."""
    logger.addHandler(caplog.handler)
    level = logger.level
    try:
        with caplog.at_level(logging.DEBUG, logger=logger.name):
            Lark(grammar, parser="lalr", lexer="contextual", import_paths=[str(folder)], debug=True)
    finally:
        logger.removeHandler(caplog.handler)
        logger.setLevel(level)
    return [record.getMessage() for record in caplog.records if "conflict" in record.getMessage().lower()]


@pytest.mark.parametrize("kind", KINDS)
def test_no_grammar_has_a_conflict(kind: LineKind, caplog: pytest.LogCaptureFixture) -> None:
    """Neither shift/reduce nor reduce/reduce: what a line means hangs on no tie-break of lark's."""
    path = grammar_path(kind)
    assert _conflicts(path.read_text(encoding="utf-8"), path.parent, caplog) == []


def test_the_check_for_conflicts_sees_one(caplog: pytest.LogCaptureFixture) -> None:
    """A tag's start value as a whole expression does conflict with the next `=`: the check says so."""
    path = grammar_path("tag")
    spoiled = path.read_text(encoding="utf-8").replace("starting: EQUALS sum", "starting: EQUALS expression")
    spoiled = spoiled.replace("%import .expression (sum,", "%import .expression (expression, sum,")
    assert any("EQUALS" in message for message in _conflicts(spoiled, path.parent, caplog))


def test_every_grammar_file_is_a_kind_of_line() -> None:
    """No grammar lies about unused; `expression` is the one that the others import."""
    files = {file.name.removesuffix(".lark") for file in resources.files("rungproof.grammar").iterdir()}
    lark_files = {name for name in files if resources.files("rungproof.grammar").joinpath(f"{name}.lark").is_file()}
    assert lark_files == {*KINDS, "expression"}


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "part"])
def test_there_is_one_expression_grammar(kind: LineKind) -> None:
    """Each grammar that has expressions imports them."""
    assert "%import .expression (" in grammar_path(kind).read_text(encoding="utf-8")


def test_the_look_ahead_of_names_is_the_list_of_reserved_words() -> None:
    """`expression.lark` and `reserved.py` keep the same words from being names."""
    text = EXPRESSION.read_text(encoding="utf-8")
    found = re.search(r"^NAME: /\(\?!\(\?:([a-z|]+)\)", text, re.MULTILINE)
    assert found is not None
    assert set(found[1].split("|")) == EXPRESSION_WORDS <= RESERVED


def test_no_unit_is_a_word_that_may_follow_a_number() -> None:
    """Every reserved word of expressions is kept from being taken for a unit."""
    text = EXPRESSION.read_text(encoding="utf-8")
    found = re.search(r"^NOT_A_WORD: /\(\?!\(\?i:([a-z|]+)\)", text, re.MULTILINE)
    assert found is not None
    words = set(found[1].split("|"))
    assert words >= EXPRESSION_WORDS
    assert "min" not in words, "`min` straight after a number is the minute"
