"""The block word that was meant."""

from __future__ import annotations

import difflib

from rungproof.grammar.explain import fits
from rungproof.grammar.line_parser import LineParser
from rungproof.grammar.reserved import BLOCK_WORDS


def nearest_header(parser: LineParser, code: str, word: str) -> str | None:
    """The block word that, put in the place of `word`, makes a whole header; or None."""
    if not word:
        return None
    for better in difflib.get_close_matches(word.lower(), BLOCK_WORDS, n=3, cutoff=0.6):
        if fits(parser, code.replace(word, better, 1)):
            return better
    return None
