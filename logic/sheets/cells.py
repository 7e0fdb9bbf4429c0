"""Tables of comma-separated values that a spreadsheet may open: RFC 4180, and no cell that it would run."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

#: What a spreadsheet takes for a formula when a cell begins with it.
_RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?([eE][+-]?[0-9]+)?")


def harmless(cell: str) -> str:
    """The cell, with an apostrophe before what a spreadsheet would run. A plain number stays a number."""
    runs = cell.startswith(_RUN) and not _NUMBER.fullmatch(cell)
    return f"'{cell}" if runs or cell.startswith("'") else cell


def as_written(cell: str) -> str:
    """The cell without the apostrophe that `harmless` put there, and without space around it."""
    return cell.strip().removeprefix("'")


def csv_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """The file, lines ended by CR LF."""
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow([harmless(each) for each in heads])
    writer.writerows([[harmless(each) for each in row] for row in rows])
    return file.getvalue()
