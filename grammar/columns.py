"""Rows of cells, and their columns: how a block is laid out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, islice, takewhile

INDENT = 4
_COMMENT_GAP = 4
#: Comments behind code begin here, or further right where neighbouring lines need it.
_COMMENT_COLUMN = 49
#: A line longer than this does not push its neighbours' comments out.
_COMMENT_LIMIT = 72

#: For each further column of a family: blanks before it, and where it begins at the earliest.
_COLUMNS: dict[str, tuple[tuple[int, int], ...]] = {
    "tag": ((2, 0), (2, 0), (3, 0), (3, 0)),
    "part": ((3, 0),),
    "feed": ((3, 0),),
    "wire": ((2, 14), (3, 0), (3, 0)),
    "event": ((2, 12),),
    "hazard": ((3, 49),),
    "assign": ((1, 0),),
}
#: Families whose columns go through their whole block; the others keep to neighbouring lines.
_BLOCKWIDE = frozenset({"tag", "part", "feed", "wire", "event"})


@dataclass(frozen=True, slots=True)
class Row:
    """One line to be written. A row without cells is a blank line, or a comment alone.

    An empty cell keeps its column free. `block` numbers the block the row belongs to.
    """

    block: int
    depth: int
    family: str
    cells: tuple[str, ...] = ()
    comment: str = ""


def lay_out(rows: Sequence[Row]) -> str:
    """The text of the rows, every line ended by a line feed."""
    texts = [" ".join(cell for cell in row.cells if cell) for row in rows]
    for group in _groups(rows):
        starts = _column_starts([rows[index] for index in group])
        for index in group:
            texts[index] = _placed(rows[index].cells, starts)
    lines = [" " * (INDENT * row.depth) + text if text else "" for row, text in zip(rows, texts, strict=True)]
    return "".join(f"{line}\n" for line in _with_comments(rows, lines))


def _groups(rows: Sequence[Row]) -> Iterable[list[int]]:
    """The indices of rows that share columns."""
    wide: dict[tuple[int, str], list[int]] = {}
    for index, row in enumerate(rows):
        if row.family in _BLOCKWIDE:
            wide.setdefault((row.block, row.family), []).append(index)
    yield from wide.values()
    standing = [index for index, row in enumerate(rows) if row.cells or not row.comment]
    for family, run in groupby(standing, key=lambda index: rows[index].family):
        if family in _COLUMNS and family not in _BLOCKWIDE:
            yield list(run)


def _column_starts(rows: Sequence[Row]) -> list[int]:
    starts = [0]
    for column, (gap, earliest) in enumerate(_COLUMNS[rows[0].family], start=1):
        ends = [
            len(_placed(row.cells[:column], starts)) for row in rows if len(row.cells) > column and row.cells[column]
        ]
        starts.append(max(max(ends, default=0) + gap, earliest))
    return starts


def _placed(cells: Sequence[str], starts: Sequence[int]) -> str:
    text = ""
    for cell, start in zip(cells, starts, strict=False):
        if cell:
            text = text.ljust(start) + cell
    return text


def _with_comments(rows: Sequence[Row], lines: Sequence[str]) -> Iterable[str]:
    """The lines with their comments; neighbouring comments stand below each other."""
    column = _COMMENT_COLUMN
    for index, (row, line) in enumerate(zip(rows, lines, strict=True)):
        if not row.comment:
            yield line
        elif not row.cells:
            yield " " * (INDENT * row.depth) + row.comment
        else:
            if index == 0 or not _beside_code(rows[index - 1]):
                column = _comment_column(islice(zip(rows, lines, strict=True), index, None))
            yield (line + " " * _COMMENT_GAP if len(line) > _COMMENT_LIMIT else line.ljust(column)) + row.comment


def _comment_column(rest: Iterable[tuple[Row, str]]) -> int:
    """Where the comments of the rows from here on begin, as long as each row has one."""
    run = takewhile(lambda pair: _beside_code(pair[0]), rest)
    needed = (len(line) + _COMMENT_GAP for _row, line in run if len(line) <= _COMMENT_LIMIT)
    return max(_COMMENT_COLUMN, *needed, 0)


def _beside_code(row: Row) -> bool:
    return bool(row.comment and row.cells)
