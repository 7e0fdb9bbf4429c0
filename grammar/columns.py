"""Rows of cells, and their columns: how a block is laid out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

INDENT = 4
_COMMENT_GAP = 4
#: A line longer than this does not push its neighbours' comments out.
_COMMENT_LIMIT = 100

#: Blanks before each further column, by family.
_GAPS: dict[str, tuple[int, ...]] = {
    "tag": (2, 2, 3, 3),
    "part": (3,),
    "feed": (3,),
    "wire": (2, 3, 3),
    "event": (4,),
    "hazard": (3,),
    "assign": (1,),
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
        if family in _GAPS and family not in _BLOCKWIDE:
            yield list(run)


def _column_starts(rows: Sequence[Row]) -> list[int]:
    gaps = _GAPS[rows[0].family]
    starts = [0]
    for column, gap in enumerate(gaps, start=1):
        ends = [len(_placed(row.cells[:column], starts)) for row in rows if len(row.cells) > column and row.cells[column]]
        starts.append(max(ends, default=0) + gap)
    return starts


def _placed(cells: Sequence[str], starts: Sequence[int]) -> str:
    text = ""
    for cell, start in zip(cells, starts, strict=False):
        if cell:
            text = text.ljust(start) + cell
    return text


def _with_comments(rows: Sequence[Row], lines: Sequence[str]) -> Iterable[str]:
    columns: dict[int, int] = {}
    for row, line in zip(rows, lines, strict=True):
        if row.comment and row.cells and len(line) <= _COMMENT_LIMIT:
            columns[row.block] = max(columns.get(row.block, 0), len(line) + _COMMENT_GAP)
    for row, line in zip(rows, lines, strict=True):
        if not row.comment:
            yield line
        elif not row.cells:
            yield " " * (INDENT * row.depth) + row.comment
        elif len(line) > _COMMENT_LIMIT:
            yield line + " " * _COMMENT_GAP + row.comment
        else:
            yield line.ljust(columns[row.block]) + row.comment
