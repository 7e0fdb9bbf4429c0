"""As-found readings: read back with clear answers to mistakes, and the check run with what was measured."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.commands.main import main
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.sheets.as_found import AsFoundError, read_as_found
from rungproof.logic.sheets.as_found_check import check_as_found, with_errors
from rungproof.logic.sheets.cells import csv_table
from rungproof.logic.sheets.readings import input_readings, output_readings
from rungproof.logic.sheets.sheets_csv import (
    FOUND_METER,
    FOUND_PROGRAM,
    METER,
    NAME,
    PROGRAM,
    READING_HEADS,
    reading_row,
)

#: The fill stops 1 cm below what R1 forbids: an instrument that reads low by more than that breaks it.
TEXT = """\
controller "Fill" every 20 ms

tags
    enough        input   bool
    level_counts  input   int 0..65535
    fill          output  bool   on stop off
    level         memory  real cm -50..150

rung level
    => level := 100 cm - scale(level_counts, 0..65535, 0 cm..100 cm)

rung fill
    level < 49 cm
    => fill

plant "Bench" every 20 ms
    tank well                 upright cylinder, diameter 100 cm, height 100 cm, starts at 380 L
    level_transmitter LT1     above well at 100 cm, sees 0 cm..100 cm as 0..10 V
    valve V1                  into well, flow 60 L/min
    float_switch LS1          in well, contact opens on rise at 90 cm, closes on fall at 88 cm
    supply P24                24 V

circuit "Valve" from P24
    rung open
        fill
        => V1.coil

wiring
    controller    from P24
    inputs X1     from P24
    outputs X2    from P24
    enough        at X1:1   from LS1
    level_counts  at X1:2   0..10 V as 0..65535   from LT1
    fill          at X2:1

requirement R1 "The level stays below 50 cm"
    always well.level < 50 cm
"""

Fill = dict[str, tuple[str, str]]


def program_of(text: str = TEXT) -> Program:
    understood = understand_texts({"fill.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


@pytest.fixture(scope="module")
def program() -> Program:
    return program_of()


def sheet(program: Program, fill: Fill, delimiter: str = ",", change: Callable[[str], str] = str) -> str:
    """The sheet of `program`, with (meter, program) as found by check."""
    rows = [reading_row(each) for each in (*input_readings(program), *output_readings(program))]
    for row in rows:
        meter, held = fill.get(row[0], ("", ""))
        row[READING_HEADS.index(FOUND_METER)], row[READING_HEADS.index(FOUND_PROGRAM)] = meter, held
    if delimiter == ",":
        return change(csv_table(READING_HEADS, rows))
    file = io.StringIO()
    csv.writer(file, delimiter=delimiter).writerows([READING_HEADS, *rows])
    return change(file.getvalue())


# --------------------------------------------------------------------- reading


def test_errors_are_measured_against_what_the_sheet_expects(program: Program) -> None:
    """5.02 V where 5 V belong is +0.02 V; the band spans the points that were filled in."""
    found = read_as_found(sheet(program, {"X1:2 up 50 %": ("5.02", ""), "X1:2 up 75 %": ("7.49", "")}), program)
    (band,) = found.bands
    assert (band.tag, band.terminal, band.unit, band.points) == ("level_counts", "X1:2", "V", 2)
    assert (band.low, band.high) == (pytest.approx(-0.01), pytest.approx(0.02))
    assert (found.readings, found.outside) == (2, ())


def test_counts_tell_more_than_the_meter(program: Program) -> None:
    """Where counts were read they decide: the channel's own error is in them."""
    found = read_as_found(sheet(program, {"X1:2 up 50 %": ("5.00", "33095")}), program)
    assert found.bands[0].high == pytest.approx((33095 - 32768) / 65535 * 10, abs=1e-9)


def test_what_lies_outside_its_limits_is_listed(program: Program) -> None:
    """A contact that reads the other way, a voltage between on and off, a level that is 2 % out."""
    fill = {"X1:1 on": ("11", "off"), "X1:1 off": ("0.2", "off"), "X1:2 down 25 %": ("2.7", "")}
    found = read_as_found(sheet(program, fill), program)
    assert [(each.check, each.found) for each in found.outside] == [
        ("X1:1 on", "meter 11 V"),
        ("X1:1 on", "program off"),
        ("X1:2 down 25 %", "meter 2.7 V"),
    ]
    assert found.outside[0].expected == "24 (15..30) V"


def test_a_spreadsheet_of_another_country_is_read(program: Program) -> None:
    """Semicolons, decimal commas, a byte order mark, a unit after the number, an empty row at the end."""
    text = "\ufeff" + sheet(program, {"X1:2 up 50 %": ("5,02 V", "")}, delimiter=";") + ";" * 16 + "\r\n"
    assert read_as_found(text, program).bands[0].high == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("fill", "change", "says"),
    [
        ({}, str, "nothing is filled in"),
        ({"X1:2 up 50 %": ("five", "")}, str, r"row 6: `meter as found` says 'five'; it should be a number in V"),
        ({"X1:2 up 50 %": ("5 mA", "")}, str, "it should be a number in V"),
        ({"X1:2 up 50 %": ("1e999", "")}, str, "which no meter shows"),
        ({"X1:1 on": ("24", "yes")}, str, "it should say `on` or `off`"),
        ({"X1:2 up 50 %": ("9", "")}, str, "off by 40 % of its span"),
        ({"X1:1 on": ("24", "")}, lambda t: t.replace("X1:1 on", "X9:9 on"), "no check called 'X9:9 on'"),
        ({"X1:1 on": ("24", "")}, lambda t: t.replace("X1:1 off", "X1:1 on"), "stands in row 2 already"),
        ({"X1:1 on": ("24", "")}, lambda t: t.replace("meter as found", "found"), "lacks the column 'meter as found'"),
        ({"X1:1 on": ("24", "")}, lambda t: t + "a,b\r\n", "has 2 cells"),
        ({"X1:2 up 50 %": ("5", "")}, lambda t: t.replace(",32768,", ",30000,"), "the sheet expects 30000 for program"),
        ({"X1:2 up 50 %": ("5", "")}, lambda t: t.replace(",4.95,", ",low,"), "are no numbers"),
        ({"X1:1 on": ("24", "")}, lambda t: "", "it is empty"),
        ({"X1:1 on": ("24", "")}, lambda t: '"' + t, "no table of comma-separated values"),
    ],
)
def test_each_mistake_in_a_sheet_is_answered(
    program: Program, fill: Fill, change: Callable[[str], str], says: str
) -> None:
    """The answer says where and what; nothing is guessed."""
    with pytest.raises(AsFoundError, match=says.replace("(", r"\(")):
        read_as_found(sheet(program, fill, change=change), program)


@given(st.text(max_size=200))
def test_no_text_at_all_brings_it_down(text: str) -> None:
    """Whatever a file holds, it is a sheet or it is answered."""
    with pytest.raises(AsFoundError):
        read_as_found(text, PROGRAM_OF_ALL)


PROGRAM_OF_ALL = program_of()


# ---------------------------------------------------------------------- errors


@given(st.floats(-1.0, 1.0).map(lambda error: round(error, 3)))
def test_an_instrument_that_is_off_sends_just_so_much_more(error: float) -> None:
    """The signal differs from the healthy one by the error, and by nothing else."""
    healthy = reference_engine().run(PROGRAM_OF_ALL, Story(40)).final
    shifted = reference_engine().run(with_errors(PROGRAM_OF_ALL, {"level_counts": error}), Story(40)).final
    assert float(shifted["LT1.signal"]) - float(healthy["LT1.signal"]) == pytest.approx(error, abs=1e-9)
    assert shifted["well.level"] == pytest.approx(float(healthy["well.level"]), abs=0.1)


@pytest.mark.usefixtures("unhurried")
def test_an_error_that_breaks_a_requirement_is_found(program: Program) -> None:
    """0.15 V too much makes the level read 1.5 cm low: the tank is filled past what R1 allows. Less does no harm."""
    good = check_as_found(program, read_as_found(sheet(program, {"X1:2 up 50 %": ("5.05", "")}), program), time_s=2)
    assert good.worst.verdict("R1").word == "simulated"
    fill = {"X1:2 up 50 %": ("4.99", ""), "X1:2 up 75 %": ("7.65", "")}
    bad = check_as_found(program, read_as_found(sheet(program, fill), program), time_s=2)
    verdict = bad.worst.verdict("R1")
    assert verdict.word == "violated"
    assert verdict.reason.startswith("with level_counts +0.15 V: ")
    assert [case.result.verdict("R1").word for case in bad.cases] == ["simulated", "violated"]


# --------------------------------------------------------------------- command


@pytest.mark.usefixtures("unhurried")
def test_check_as_found_says_it_all(tmp_path: Path, capsys: pytest.CaptureFixture[str], program: Program) -> None:
    """Readings, errors, verdicts; exit code 1 where something lies outside, though nothing is violated."""
    project, filled = tmp_path / "fill.rung", tmp_path / "readings.csv"
    project.write_text(TEXT, encoding="utf-8")
    filled.write_text(sheet(program, {"X1:1 on": ("24", "off"), "X1:2 up 50 %": ("5.01", "")}), newline="")
    assert (
        main(["check", str(project), "--as-found", str(filled), "--time", "2", "--json", str(tmp_path / "o.json")]) == 1
    )
    out = capsys.readouterr().out
    assert "3 readings, 1 outside their limits" in out
    assert "X1:1 on: program off, expected on" in out
    assert "level_counts +0.01 V" in out
    assert "readings lie outside their limits" in out


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfe\x00", "UTF-8"),
        (b"a\x00b", "no text"),
        (b"", "empty"),
        (b"x" * 5_000_001, "bytes"),
        (None, "cannot be read"),
    ],
    ids=["no text", "zeros", "empty", "huge", "missing"],
)
def test_a_file_that_is_no_sheet_ends_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, says: str
) -> None:
    """Exit code 2, the file's name, no traceback."""
    project, filled = tmp_path / "fill.rung", tmp_path / "readings.csv"
    project.write_text(TEXT, encoding="utf-8")
    if content is not None:
        filled.write_bytes(content)
    assert main(["check", str(project), "--as-found", str(filled)]) == 2
    said = capsys.readouterr()
    assert says in said.err
    assert "readings.csv" in said.err


def test_options_of_the_files_alone_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Stories and certificates are of the files as they are, not of a machine that is off."""
    project = tmp_path / "fill.rung"
    project.write_text(TEXT, encoding="utf-8")
    assert main(["check", str(project), "--as-found", "x.csv", "--stories", str(tmp_path / "s")]) == 2
    assert "do not go together" in capsys.readouterr().err


def test_the_columns_that_are_read_are_those_that_are_written() -> None:
    """The heads of the sheet hold every column that reading back asks for."""
    assert {NAME, METER, PROGRAM, FOUND_METER, FOUND_PROGRAM} <= set(READING_HEADS)
