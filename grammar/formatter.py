"""The one way a file is laid out. Words, remarks and comments stay; blanks and line ends change."""

from __future__ import annotations

from rungproof.grammar.columns import Row, lay_out
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.parser import parse_text, read_text
from rungproof.grammar.source import ReadLine
from rungproof.grammar.tree import SourceFile
from rungproof.grammar.unparse import line_row


class FormatterError(AssertionError):
    """The formatted text does not say what the text said: a mistake of ours. Nothing may be written."""


def format_text(text: str, path: str, reporter: Reporter) -> str | None:
    """The text, laid out anew; None where it has errors, which the reporter then holds.

    Formatting twice gives what formatting once gives, and the tree stays the same.
    Raises `FormatterError` where that fails.
    """
    mine = Reporter(reporter.entries)
    reading = read_text(text, path, mine)
    before = SourceFile(path, tuple(reading.blocks))
    reporter.found.extend(mine.found)
    if mine.has_errors:
        return None
    formatted = lay_out(_rows(reading.lines))
    after = Reporter(reporter.entries)
    if parse_text(formatted, path, after) != before or after.has_errors:
        raise FormatterError(f"formatting {path} would change what it says")
    return formatted


def _rows(lines: list[ReadLine]) -> list[Row]:
    """The rows of a file: blank lines at its ends go, several in a row become one."""
    rows: list[Row] = []
    block = 0
    for index, line in enumerate(lines):
        source = line.source
        if line.node is not None:
            if line.depth == 0:
                block += 1
            row = line_row(line.node, block, line.depth)
            rows.append(Row(block, line.depth, row.family, row.cells, source.comment))
        elif source.comment:
            rows.append(Row(block, _comment_depth(lines, index), "comment", (), source.comment))
        elif rows and rows[-1].family != "blank":
            rows.append(Row(block, 0, "blank"))
    while rows and rows[-1].family == "blank":
        rows.pop()
    return rows


def _comment_depth(lines: list[ReadLine], index: int) -> int:
    """A comment at the left edge stays there; another goes with the line it stands above.

    At the end of a block there is no such line, and it goes with the line it stands below.
    """
    if lines[index].source.indent == 0:
        return 0
    below = next((line for line in lines[index + 1 :] if line.node is not None), None)
    if below is not None and below.depth > 0:
        return below.depth
    above = next((line for line in reversed(lines[:index]) if line.node is not None), None)
    return max(1, above.depth) if above is not None else 1
