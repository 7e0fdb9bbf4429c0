"""A diagnosis as plain text: where, what, the line with a caret, what was expected, the mend."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.tree import Span

#: Columns of a line that are shown; a longer line is cut around the caret. With the margin and
#: the marks of the cut it stays within 80 columns, so that no terminal breaks it from its caret.
SHOWN_WIDTH = 70
_TAB = 4
_MARGIN = "        "
_CUT = "…"


def render(diagnosis: Diagnosis, sources: Mapping[str, Sequence[str]]) -> str:
    """The diagnosis for people. `sources` maps a file's name to its lines; it may lack files.

    Several lines, without a line feed at the end.
    """
    grade = "" if diagnosis.grade == "error" else f"  ({diagnosis.grade})"
    lines = [f"{_place(diagnosis.span)}  {diagnosis.code}{grade}", f"    {diagnosis.message}"]
    lines.extend(_excerpt(diagnosis.span, sources))
    if diagnosis.expected:
        lines.append(f"    Expected: {_ended(diagnosis.expected)}")
    if diagnosis.mend:
        lines.append(f"    Mend: {_ended(diagnosis.mend)}")
    for span, words in diagnosis.related:
        lines.append(f"    See {_place(span)}, {words}:")
        lines.extend(_excerpt(span, sources))
    return "\n".join(lines)


def _ended(sentence: str) -> str:
    """The sentence with a full stop, unless it ends itself."""
    return sentence if sentence.endswith((".", "?", "!")) else f"{sentence}."


def _place(span: Span) -> str:
    return f"{span.file}:{span.line}:{span.column}"


def _excerpt(span: Span, sources: Mapping[str, Sequence[str]]) -> list[str]:
    """The line and its caret line; nothing where the line is blank or not at hand."""
    known = sources.get(span.file, ())
    if not 0 < span.line <= len(known) or not known[span.line - 1].strip():
        return []
    line, begin, end = _cut(known[span.line - 1], span.column - 1, span.end_column - 1)
    before = _shown(line[:begin])
    marked = _shown(line[begin:end])
    caret = " " * _width(before) + "^" * max(1, _width(marked))
    after = _shown(line[end:])
    text = before + marked + after
    blanks = len(text) - len(text.lstrip(" "))
    cut = min(blanks, _width(before))
    return [f"{_MARGIN}{text[cut:].rstrip()}", f"{_MARGIN}{caret[cut:]}"]


def _cut(line: str, begin: int, end: int) -> tuple[str, int, int]:
    """The stretch of a long line around begin..end, with `…` where it was cut."""
    begin = min(max(begin, 0), len(line))
    end = min(max(end, begin), len(line))
    if len(line) <= SHOWN_WIDTH:
        return line, begin, end
    first = max(0, min(begin - SHOWN_WIDTH // 3, len(line) - SHOWN_WIDTH))
    last = first + SHOWN_WIDTH
    head = _CUT if first else ""
    tail = _CUT if last < len(line) else ""
    begin_shown = begin - first + len(head)
    end_shown = min(end, last) - first + len(head)
    return head + line[first:last] + tail, begin_shown, end_shown


def _shown(text: str) -> str:
    """Tabs as blanks; characters that cannot be shown as a dot."""
    return "".join(" " * _TAB if sign == "\t" else sign if sign.isprintable() else "·" for sign in text)


def _width(text: str) -> int:
    """Columns on a terminal: wide characters take two, marks that sit on another take none."""
    columns = 0
    for sign in text:
        if unicodedata.combining(sign):
            continue
        columns += 2 if unicodedata.east_asian_width(sign) in "WF" else 1
    return columns
