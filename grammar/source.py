"""A file as lines: where each begins, what of it is code, what is comment."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

#: Code up to a comment, or up to a quote that is never closed.
_CODE = re.compile(r'[^"#]*(?:"[^"]*"[^"#]*)*')


@dataclass(frozen=True, slots=True)
class SourceLine:
    """One line. `code` keeps the indentation, so that columns are the file's own.

    `comment` begins with `#`, or is empty. `indent` counts columns, a tab going on to the
    next multiple of four.
    """

    number: int
    code: str
    comment: str
    indent: int

    @property
    def is_blank(self) -> bool:
        return not self.code.strip()


def split_lines(text: str) -> list[str]:
    """The lines of a text, whichever line ends it uses; a last empty line is none."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if lines and not lines[-1]:
        lines.pop()
    return lines


def split_comment(line: str) -> tuple[str, str]:
    """The code of a line and its comment. A `#` between quotes begins none."""
    if "#" not in line:
        return line, ""
    code = _CODE.match(line)
    end = len(line) if code is None else code.end()
    if end == len(line) or line[end] == '"':
        return line, ""
    return line[:end], line[end:].rstrip()


def read_line(number: int, line: str) -> SourceLine:
    code, comment = split_comment(line)
    stripped = line.lstrip()
    blanks = line[: len(line) - len(stripped)]
    indent = len(blanks.expandtabs(4)) if "\t" in blanks else len(blanks)
    return SourceLine(number, code, comment, indent)


@dataclass(slots=True)
class ReadLine:
    """A line and what it says: `node` is None for blank lines, comments and broken lines.

    `depth` counts how far in the line belongs: 0 for a header, 2 inside a circuit's rung.
    """

    source: SourceLine
    node: Any = None
    depth: int = 0
