"""What is checked of a line before and after its grammar has seen it."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from typing import Any

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.source import SourceLine
from rungproof.grammar.tree import Span

#: Characters in a line. Longer ones are refused unread: no one wrote them by hand.
LONGEST_LINE = 20_000
#: Parentheses inside parentheses, and operators inside operators.
DEEPEST_NESTING = 50
DEEPEST_TREE = 100
#: No expression of fewer characters can be deeper than `DEEPEST_TREE`.
_SHORTEST_DEEP_LINE = DEEPEST_TREE

#: Control characters, and characters that change how a line looks without being seen.
HIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb]")


def may_be_parsed(source: SourceLine, path: str, reporter: Reporter) -> bool:
    """Whether a line is fit to be parsed at all; if not, the reason is reported."""
    code = source.code
    if '"' in code and code.count('"') % 2:
        at = code.rindex('"')
        reporter.report("unclosed-quote", Span(path, source.number, at + 1, len(code.rstrip()) + 1))
        return False
    if code.count("(") > DEEPEST_NESTING:
        deep = _too_deep_at(code)
        if deep is not None:
            reporter.report("nested-too-deep", Span(path, source.number, deep + 1, deep + 2), limit=DEEPEST_NESTING)
            return False
    return True


def check_hidden(line: str, number: int, path: str, reporter: Reporter) -> bool:
    """Whether a line is free of hidden characters; if not, the first is reported."""
    found = HIDDEN.search(line)
    if found is None:
        return True
    span = Span(path, number, found.start() + 1, found.end() + 1)
    reporter.report("hidden-character", span, code_point=f"U+{ord(found[0]):04X}")
    return False


def _too_deep_at(code: str) -> int | None:
    depth = 0
    quoted = False
    for at, sign in enumerate(code):
        if sign == '"':
            quoted = not quoted
        elif not quoted:
            depth += (sign == "(") - (sign == ")")
            if depth > DEEPEST_NESTING:
                return at
    return None


def check_depth(node: Any, source: SourceLine, span: Span, reporter: Reporter) -> bool:
    """Whether the line's tree is shallow enough for everyone who walks it by recursion."""
    if len(source.code) <= _SHORTEST_DEEP_LINE:
        return True
    waiting = [(node, 0)]
    while waiting:
        part, depth = waiting.pop()
        if depth > DEEPEST_TREE:
            reporter.report("nested-too-deep", span, limit=DEEPEST_TREE)
            return False
        waiting.extend((inner, depth + is_dataclass(inner)) for inner in _inside(part))
    return True


def _inside(part: Any) -> list[Any]:
    if isinstance(part, tuple):
        return list(part)
    if isinstance(part, dict):
        return list(part.values())
    if is_dataclass(part) and not isinstance(part, Span):
        return [getattr(part, field.name) for field in fields(part)]
    return []
