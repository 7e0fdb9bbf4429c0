"""As-found readings: a filled-in `readings.csv` read back, and what its errors do to the requirements.

Every mistake in the file is answered with its row. What is expected is worked out anew from the
files: a sheet that was made from other files is refused rather than compared.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from rungproof.logic.meaning.program import Channel, InputWire, Program
from rungproof.logic.sheets.cells import as_written
from rungproof.logic.sheets.readings import Band, Reading, input_readings, output_readings
from rungproof.logic.sheets.sheets_csv import FOUND_METER, FOUND_PROGRAM, METER, NAME, PROGRAM, figure, program_cells

#: Beyond this share of the span an error is no error of measurement: nothing is run with it.
MOST_ERROR = 0.25

#: Bytes that a filled-in sheet may have.
MOST_BYTES = 5_000_000

_NEEDED = (NAME, METER, "meter from", "meter to", FOUND_METER, PROGRAM, "program from", "program to", FOUND_PROGRAM)


class AsFoundError(ValueError):
    """The sheet cannot be used. As text it says where and why; `mend` what to do."""

    def __init__(self, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.mend = mend


@dataclass(frozen=True, slots=True)
class Outside:
    """A reading that is not as it should be: which check, what was found, what was expected."""

    check: str
    found: str
    expected: str


@dataclass(frozen=True, slots=True)
class ErrorBand:
    """What was measured of one analog input: the least and the greatest error, in its signal's unit."""

    tag: str
    terminal: str
    unit: str
    low: float
    high: float
    points: int


@dataclass(frozen=True, slots=True)
class AsFound:
    """A sheet read back. `readings` counts the cells that were filled in."""

    readings: int
    bands: tuple[ErrorBand, ...]
    outside: tuple[Outside, ...]


def read_as_found(text: str, program: Program) -> AsFound:
    """Read a filled-in sheet of `program`. Raises `AsFoundError`.

    Commas or semicolons between cells, and a decimal comma in a file with semicolons, as a
    spreadsheet of the place may write them; a byte order mark is passed over.
    """
    rows, semicolons = _rows(text)
    known = {each.name: each for each in (*input_readings(program), *output_readings(program))}
    errors: dict[str, list[float]] = {}
    outside: list[Outside] = []
    filled = 0
    seen: dict[str, int] = {}
    for number, row in rows:
        reading = known.get(row[NAME])
        if reading is None:
            mend = "Leave the columns of the sheet as they are; `rungproof sheets` writes it anew."
            raise AsFoundError(f"row {number}: there is no check called {row[NAME]!r} in these files", mend)
        if reading.name in seen:
            raise AsFoundError(f"row {number}: the check {reading.name!r} stands in row {seen[reading.name]} already")
        seen[reading.name] = number
        _same_sheet(number, row, reading)
        cells = _Cells(number, row, semicolons)
        meter, held = cells.meter(reading), cells.program(reading)
        filled += (meter is not None) + (held is not None)
        outside += _outside(reading, row, meter, held)
        error = _error(program, reading, meter, held)
        if error is not None:
            errors.setdefault(reading.tag, []).append(error)
    if not filled:
        raise AsFoundError("nothing is filled in", f"Write what was found into `{FOUND_METER}` and `{FOUND_PROGRAM}`.")
    return AsFound(filled, tuple(_band(program, tag, each) for tag, each in errors.items()), tuple(outside))


# ------------------------------------------------------------------------ rows


def _rows(text: str) -> tuple[list[tuple[int, dict[str, str]]], bool]:
    """Rows by head, with their numbers; whether semicolons stand between cells."""
    text = text.removeprefix("\ufeff")
    first = text.split("\n", 1)[0]
    semicolons = first.count(";") > first.count(",")
    try:
        read = list(csv.reader(io.StringIO(text, newline=""), delimiter=";" if semicolons else ",", strict=True))
    except csv.Error as error:
        raise AsFoundError(f"it is no table of comma-separated values: {error}") from error
    if not read or not any(read):
        raise AsFoundError("it is empty")
    heads = [as_written(each).lower() for each in read[0]]
    missing = [each for each in _NEEDED if each not in heads]
    if missing:
        mend = "Fill in the readings.csv that `rungproof sheets` writes, and keep its first row."
        raise AsFoundError(f"its first row lacks the column {missing[0]!r}", mend)
    rows = []
    for number, row in enumerate(read[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(heads):
            raise AsFoundError(f"row {number} has {len(row)} cells, and the first row has {len(heads)}")
        rows.append((number, dict(zip(heads, map(as_written, row), strict=True))))
    return rows, semicolons


def _same_sheet(number: int, row: dict[str, str], reading: Reading) -> None:
    """Refuse a row whose expected values are not those of the files as they are."""
    program = program_cells(reading.program)[0]
    meter = figure(reading.meter.expected) if reading.meter is not None else ""
    for head, now in ((METER, meter), (PROGRAM, program)):
        then = row[head].replace(",", ".")
        if then != now and not _close(then, now):
            words = (
                f"row {number}: the sheet expects {then or 'nothing'} for {head.split()[0]} at {reading.name!r}, and"
            )
            mend = "The sheet was made from other files: make it anew and carry the readings over."
            raise AsFoundError(f"{words} the files now say {now or 'nothing'}", mend)


def _close(then: str, now: str) -> bool:
    try:
        return math.isclose(float(then), float(now), rel_tol=1e-6, abs_tol=1e-6)
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class _Cells:
    number: int
    row: dict[str, str]
    semicolons: bool

    def meter(self, reading: Reading) -> float | None:
        return self._figure(FOUND_METER, reading.meter.unit if reading.meter is not None else "V")

    def program(self, reading: Reading) -> float | bool | None:
        if isinstance(reading.program, Band):
            return self._figure(FOUND_PROGRAM, reading.program.unit)
        said = self.row[FOUND_PROGRAM].strip().lower()
        if said in ("", "on", "off"):
            return None if not said else said == "on"
        raise AsFoundError(f"row {self.number}: `{FOUND_PROGRAM}` says {said!r}; it should say `on` or `off`")

    def _figure(self, head: str, unit: str) -> float | None:
        said = self.row[head].strip()
        if not said:
            return None
        match = re.fullmatch(r"([+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?)\s*(\S*)", said)
        if match is None or match[2].lower() not in ("", unit.lower()):
            words = f"row {self.number}: `{head}` says {said!r}; it should be a number in {unit}"
            raise AsFoundError(words, "Write the number alone, such as 4.98.")
        value = float(match[1].replace(",", "."))
        if not math.isfinite(value):
            raise AsFoundError(f"row {self.number}: `{head}` says {said!r}, which no meter shows")
        return value


# ---------------------------------------------------------------------- errors


def _outside(reading: Reading, row: dict[str, str], meter: float | None, held: float | bool | None) -> list[Outside]:
    """What of one row lies outside the limits that stand on the sheet."""
    found = []
    if meter is not None and reading.meter is not None:
        found += _beyond(reading, row, "meter", meter, reading.meter)
    if isinstance(held, bool) and isinstance(reading.program, bool):
        if held != reading.program:
            found.append(Outside(reading.name, f"program {_on(held)}", _on(reading.program)))
    elif held is not None and isinstance(reading.program, Band):
        found += _beyond(reading, row, "program", float(held), reading.program)
    return found


def _beyond(reading: Reading, row: dict[str, str], which: str, value: float, band: Band) -> list[Outside]:
    limits = [row[f"{which} {end}"].replace(",", ".") for end in ("from", "to")]
    try:
        low, high = (float(each) if each else None for each in limits)
    except ValueError as error:
        raise AsFoundError(f"the limits of {reading.name!r} are no numbers: {limits[0]!r}, {limits[1]!r}") from error
    if Band(band.expected, low, high, band.unit).holds(value):
        return []
    expected = f"{figure(band.expected)} ({limits[0]}..{limits[1]}) {band.unit}"
    return [Outside(reading.name, f"{which} {figure(value)} {band.unit}", expected)]


def _on(value: bool) -> str:
    return "on" if value else "off"


def _error(program: Program, reading: Reading, meter: float | None, held: float | bool | None) -> float | None:
    """The error of an analog input at one point, in its signal's unit: of the counts where they were read, else of
    the meter. The counts tell of everything up to the program."""
    found = _analog(program, reading.tag)
    if found is None or not isinstance(reading.program, Band) or reading.meter is None:
        return None
    channel = found[1]
    if held is not None and channel.counts_low is not None and channel.counts_high is not None:
        ends = (channel.counts_low, channel.counts_high)
        if float(held) not in ends or reading.program.expected == held:
            # At the end of its counts a channel cuts off: what is cut off there cannot be told.
            share = (float(held) - reading.program.expected) / (channel.counts_high - channel.counts_low)
            return _plausible(reading, share * (channel.high - channel.low), channel.high - channel.low)
    elif held is not None:
        return _plausible(reading, float(held) - reading.program.expected, channel.high - channel.low)
    return None if meter is None else _plausible(reading, meter - reading.meter.expected, channel.high - channel.low)


def _plausible(reading: Reading, error: float, span: float) -> float:
    if abs(error) > MOST_ERROR * span:
        words = f"{reading.name!r} is off by {abs(error) / span * 100:.0f} % of its span"
        raise AsFoundError(f"{words}: a slip of the pen, or a broken instrument; nothing is run with that")
    return error


def _analog(program: Program, tag: str) -> tuple[InputWire, Channel] | None:
    wires = program.plant.inputs if program.plant is not None else ()
    return next(((wire, wire.channel) for wire in wires if wire.tag == tag and wire.channel is not None), None)


def _band(program: Program, tag: str, errors: Sequence[float]) -> ErrorBand:
    found = _analog(program, tag)
    assert found is not None, "an error is of an analog input"
    wire, channel = found
    return ErrorBand(tag, wire.terminal, channel.unit.symbol, min(errors), max(errors), len(errors))
