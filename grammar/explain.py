"""From a line that does not fit its grammar to the one diagnosis that helps its author."""

from __future__ import annotations

import difflib
import re
import string
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from copy import copy
from functools import cache
from typing import Any

from lark import Token
from lark.exceptions import UnexpectedInput
from lark.parsers.lalr_interactive_parser import InteractiveParser
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.expected import expected_words
from rungproof.grammar.hint_table import HINTS, LAST_HINTS
from rungproof.grammar.hints import Hint, blot
from rungproof.grammar.line_parser import LineKind, LineParser, line_parser
from rungproof.grammar.reserved import EXPRESSION_WORDS
from rungproof.grammar.tree import Span

_TOKEN = re.compile(r'"[^"]*"|[A-Za-z0-9_.]+|=>|:=|<=|>=|<>|\.\.|\S')
_WORD = re.compile(r"[A-Za-z][A-Za-z-]+")
_KNOWN_SIGNS = frozenset(string.ascii_letters + string.digits + '_"()+-*/<>=,.: \t')
_KEYWORD = re.compile(r"[a-z][a-z-]+")
_SUBSTITUTIONS_TRIED = 12
_LONGEST_SHOWN = 40


def explain(parser: LineParser, code: str, error: UnexpectedInput) -> None:
    """Report the one diagnosis of a line that could not be read."""
    blotted = blot(code)
    at = _position(code, error)
    if (
        _explain_brackets(parser, blotted)
        or _explain_hint(parser, blotted, HINTS)
        or _explain_character(parser, blotted, at)
    ):
        return
    if _explain_misspelling(parser, code, blotted, at) or _explain_hint(parser, blotted, LAST_HINTS):
        return
    accepted = _accepted(parser, code[:at])
    expected = expected_words(accepted)
    if at >= len(code.rstrip()):
        _report(parser, "unexpected-end", len(code.rstrip()), len(code.rstrip()) + 1, expected=expected)
        return
    found = _TOKEN.match(code, at)
    end = found.end() if found else at + 1
    word = code[at:end]
    if word in EXPRESSION_WORDS and any(_is_name(terminal) for terminal in accepted):
        _report(parser, "word-for-name", at, end, found=word, expected=expected)
    else:
        _report(parser, "unexpected", at, end, found=_shown(word), expected=expected)


def _report(parser: LineParser, code: str, begin: int, end: int, **fields: Any) -> None:
    place = parser.place
    place.reporter.report(code, Span(place.file, place.line, begin + 1, end + 1), **fields)


def _position(code: str, error: UnexpectedInput) -> int:
    at = error.pos_in_stream
    token = getattr(error, "token", None)
    if at is None or (token is not None and token.type == "$END"):
        return len(code.rstrip())
    return at


def _accepted(parser: LineParser, before: str) -> frozenset[str]:
    """The terminals that may follow what stands before, without the names of their files.

    The state of the failed parse is of no use: it has already reduced for a token that
    another context would have allowed.
    """
    with _quiet(parser):
        interactive = parser.lark.parse_interactive(before)
        try:
            interactive.exhaust_lexer()
        except UnexpectedInput:
            return frozenset()
        return frozenset(name.split("__")[-1] for name in _followers(parser, interactive))


def _followers(parser: LineParser, interactive: InteractiveParser) -> Iterator[str]:
    """The terminals that go on from here. (Lark's own answer leaves imported terminals out.)"""
    terminals = {terminal.name for terminal in parser.lark.terminals} | {"$END"}
    state = interactive.parser_state
    silent = copy(state.parse_conf)
    silent.callbacks = {}
    for name in terminals & set(state.parse_conf.states[state.position]):
        trial = state.copy(deepcopy_values=False)
        trial.parse_conf = silent
        try:
            trial.feed_token(Token(name, ""), is_end=name == "$END")
        except UnexpectedInput:
            continue
        yield name


def _is_name(terminal: str) -> bool:
    return terminal in {"NAME", "WORD"}


def _shown(word: str) -> str:
    if word.startswith('"'):
        return "The quoted text"
    return f"`{word}`" if len(word) <= _LONGEST_SHOWN else f"`{word[:_LONGEST_SHOWN]}…`"


def _explain_brackets(parser: LineParser, blotted: str) -> bool:
    open_at: list[int] = []
    for at, sign in enumerate(blotted):
        if sign == "(":
            open_at.append(at)
        elif sign == ")":
            if not open_at:
                _report(parser, "unopened-parenthesis", at, at + 1)
                return True
            open_at.pop()
    if open_at:
        _report(parser, "unclosed-parenthesis", open_at[-1], open_at[-1] + 1)
    return bool(open_at)


def _explain_hint(parser: LineParser, blotted: str, hints: tuple[Hint, ...]) -> bool:
    for hint in hints:
        matched = hint.look_at(parser.kind, blotted)
        if matched is None:
            continue
        groups = {name: text for name, text in matched.groupdict().items() if text is not None}
        anchor = "caret" if "caret" in groups else "found" if "found" in groups else 0
        fields: dict[str, Any] = {"found": matched[anchor], **groups}
        if "found" in groups:
            fields["small"] = groups["found"].lower()
            fields["instead"] = hint.instead_of(groups["found"])
        _report(parser, hint.code, matched.start(anchor), matched.end(anchor), **fields)
        return True
    return False


def _explain_character(parser: LineParser, blotted: str, at: int) -> bool:
    if at >= len(blotted) or blotted[at] in _KNOWN_SIGNS:
        return False
    sign = blotted[at]
    code = "accented-letter" if sign.isalpha() else "odd-character"
    name = unicodedata.name(sign, f"U+{ord(sign):04X}").lower()
    _report(parser, code, at, at + 1, found=sign if sign.isprintable() else " ", name=name)
    return True


@cache
def keywords(kind: LineKind) -> frozenset[str]:
    """The words that a kind of line knows, read off its grammar."""
    wordy = [
        terminal.pattern.value
        for terminal in line_parser(kind).lark.terminals
        if r"\b" in terminal.pattern.value and not {"NAME", "NUMBER", "UNIT"} & {terminal.name.split("__")[-1]}
    ]
    return frozenset(word for pattern in wordy for word in _KEYWORD.findall(pattern))


def _explain_misspelling(parser: LineParser, code: str, blotted: str, at: int) -> bool:
    """A word that, put right, makes the whole line fit."""
    known = keywords(parser.kind)
    tried = 0
    for word in reversed(list(_WORD.finditer(blotted, 0, max(at, 0) + 40))):
        if word[0] in known or word.start() > at:
            continue
        for better in difflib.get_close_matches(word[0].lower(), known, n=2, cutoff=0.7):
            tried += 1
            if tried > _SUBSTITUTIONS_TRIED:
                return False
            if fits(parser, code[: word.start()] + better + code[word.end() :]):
                _report(parser, "misspelt-word", word.start(), word.end(), found=word[0], better=better)
                return True
    return False


def fits(parser: LineParser, code: str) -> bool:
    """Whether a line fits the grammar, nothing being reported."""
    with _quiet(parser):
        try:
            parser.parse(code)
        except UnexpectedInput:
            return False
    return True


@contextmanager
def _quiet(parser: LineParser) -> Iterator[None]:
    """A trial: what the builders say in it is not reported."""
    place = parser.place
    reporter, place.reporter = place.reporter, Reporter(place.reporter.entries)
    try:
        yield
    finally:
        place.reporter = reporter
