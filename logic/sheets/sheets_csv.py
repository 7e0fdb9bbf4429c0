"""The bench sheets as tables for a spreadsheet. `readings.csv` is the one that is read back."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.sheets.bench_sheets import BenchSheets
from rungproof.logic.sheets.cause_effect import Matrix
from rungproof.logic.sheets.cells import csv_table
from rungproof.logic.sheets.readings import Band, Reading
from rungproof.logic.sheets.sheets_words import cell_words, shown_words

#: Columns of the readings. What a person fills in: `FOUND_METER`, `FOUND_PROGRAM`, initials, remarks.
NAME, FOUND_METER, FOUND_PROGRAM = "check", "meter as found", "program as found"
METER, PROGRAM = "meter expected", "program expected"
READING_HEADS = (
    NAME,
    "terminal",
    "tag",
    "bring about",
    METER,
    "meter from",
    "meter to",
    "meter unit",
    FOUND_METER,
    PROGRAM,
    "program from",
    "program to",
    "program unit",
    FOUND_PROGRAM,
    "program shows",
    "initials",
    "remarks",
)


def csv_files(sheets: BenchSheets) -> dict[str, str]:
    """Text by file name."""
    return {
        "wiring.csv": _wiring(sheets),
        "readings.csv": csv_table(READING_HEADS, (reading_row(each) for each in (*sheets.inputs, *sheets.outputs))),
        "cause_effect.csv": _matrices(sheets),
        "tests.csv": _tests(sheets),
    }


def reading_row(reading: Reading) -> list[str]:
    """One reading, its as-found cells empty."""
    return [
        reading.name,
        reading.terminal,
        reading.tag,
        reading.do,
        *_band_cells(reading.meter),
        "",
        *program_cells(reading.program),
        "",
        shown_words(reading),
        "",
        "",
    ]


def program_cells(program: Band | bool) -> list[str]:
    if isinstance(program, bool):
        return ["on" if program else "off", "", "", ""]
    return _band_cells(program)


def _band_cells(band: Band | None) -> list[str]:
    if band is None:
        return ["", "", "", ""]
    return [figure(band.expected), figure(band.low), figure(band.high), band.unit]


def figure(value: float | None) -> str:
    """Up to six places, without zeros at the end."""
    if value is None:
        return ""
    return f"{value:.6f}".rstrip("0").rstrip(".").replace("-0", "0", 1) if abs(value) < 5e-7 else _trimmed(value)


def _trimmed(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _wiring(sheets: BenchSheets) -> str:
    heads = ("terminal", "tag", "way", "remark", "other end", "signal", "supply", "wire off", "on stop", "initials")
    rows = [
        (t.terminal, t.tag, t.way, t.remark, t.other_end, t.signal, t.supply, t.lost, t.on_stop, "")
        for t in sheets.terminals
    ]
    return csv_table(heads, rows)


def _matrices(sheets: BenchSheets) -> str:
    keys = [effect.key for effect in sheets.matrices[0].effects] if sheets.matrices else []
    rows = [row for matrix in sheets.matrices for row in _matrix_rows(matrix)]
    return csv_table(("state", "cause", "how", *keys), rows)


def _matrix_rows(matrix: Matrix) -> Iterator[list[str]]:
    for row in matrix.rows:
        cells = [" ".join(cell_words(effect, cell)) for effect, cell in zip(matrix.effects, row.cells, strict=True)]
        yield [matrix.state.name, row.cause.name, row.cause.do, *cells]


def _tests(sheets: BenchSheets) -> str:
    heads = ("step", "from", "moves", "do", "must come", "then undo", "must come of that", "as found", "initials")
    rows = [
        (
            step.number,
            procedure.title,
            "moves" if step.moves else "",
            step.do,
            "; ".join(step.expect),
            step.undo,
            "; ".join(step.then),
            "",
            "",
        )
        for procedure in sheets.procedures
        for step in procedure.steps
    ]
    return csv_table(heads, rows)
