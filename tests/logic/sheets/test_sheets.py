"""Bench sheets: what they expect is what the model does, and what the published tables say."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic import api
from rungproof.logic.api import understand
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.commands.main import main
from rungproof.logic.meaning.program import Event, Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.sheets.bench_sheets import BenchSheets, bench_sheets
from rungproof.logic.sheets.cause_effect import STANDS_MS, Cell
from rungproof.logic.sheets.cells import as_written, csv_table, harmless
from rungproof.logic.sheets.devices import closes_when, contact_at
from rungproof.logic.sheets.readings import Band, Reading, input_readings, output_readings
from rungproof.logic.sheets.sheets_csv import csv_files
from rungproof.logic.sheets.sheets_page import sheets_page
from rungproof.logic.sheets.wiring_list import circuit_lines
from rungproof.plant.operators import PLAIN

EXAMPLES = Path(__file__).parents[3] / "examples"

#: A 4..20 mA transmitter over 2 m on a channel of 0..20 mA in 16 bits, and an output of 4..20 mA in 12 bits.
LOOP = """\
controller "Loop" every 20 ms

tags
    level_counts  input   int 0..65535
    valve_counts  output  int 0..4095   on stop 0
    level         memory  real cm -100..300

rung level
    => level := 250 cm - scale(level_counts, 13107..65535, 50 cm..250 cm)

rung valve
    => valve_counts := 0

plant "Bench" every 20 ms
    tank well                 upright cylinder, diameter 100 cm, height 250 cm, starts at 200 L
    level_transmitter LT1     above well at 250 cm, sees 50 cm..250 cm as 4..20 mA
    supply P24                24 V

wiring
    controller    from P24
    inputs X1     from P24
    level_counts  at X1:1   0..20 mA as 0..65535   from LT1
    valve_counts  at X2:1   4..20 mA as 0..4095
"""


def program_of(text: str) -> Program:
    understood = understand_texts({"bench.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def example(name: str) -> Program:
    program = understand(EXAMPLES / name).program
    assert program is not None
    return program


@pytest.fixture(scope="module")
def press() -> BenchSheets:
    return bench_sheets(example("press_guard"))


def meter(reading: Reading) -> Band:
    assert reading.meter is not None
    return reading.meter


def band(reading: Reading) -> Band:
    assert isinstance(reading.program, Band)
    return reading.program


# --------------------------------------------------------------------- circuits


def test_a_circuit_is_rung_out_by_how_its_contacts_stand_untouched(press: BenchSheets) -> None:
    """Break or make, and open or closed before anybody has touched anything; a coil has none."""
    standing = {line.text: line.contacts for line in press.circuits}
    assert standing["S0.1"] == ("S0.1 break, closed",)
    assert standing["G1.1"] == ("G1.1 make, closed",)  # the guard starts shut
    assert standing["K1.1"] == ("K1.1 make, open",)
    assert standing["K1.3"] == ("K1.3 break, closed",)
    assert standing["=> K1"] == ()
    assert standing["ram_down"] == ("X2:1 output, off at rest",)
    both = next(line for line in circuit_lines(example("header_tank")) if " or " in line.text)
    assert (both.text, both.contacts) == ("S3.1 or K1.1", ("S3.1 make, open", "K1.1 make, open"))


# -------------------------------------------------------------------- readings

#: 0, 25, 50, 75, 100 % in mA and in 16-bit counts on 0..20 mA: IEC 60381-1 and IEC 62382, from memory; the counts
#: were worked out independently (references, 3.1).
LOOP_POINTS = [(4.0, 13107), (8.0, 26214), (12.0, 39321), (16.0, 52428), (20.0, 65535)]


def test_a_current_loop_reads_the_published_values_up_and_down() -> None:
    """4, 8, 12, 16, 20 mA and their counts, then back down, at the levels that the mounting gives."""
    readings = input_readings(program_of(LOOP))
    assert [(meter(each).expected, band(each).expected) for each in readings] == LOOP_POINTS + LOOP_POINTS[::-1]
    assert [each.way for each in readings] == ["up"] * 5 + ["down"] * 5
    assert readings[0].do == "surface 50 cm below LT1: level 200 cm in well"
    assert {meter(each).unit for each in readings} == {"mA"}


def test_the_program_shows_the_level_that_was_brought_about() -> None:
    """What the program works out goes with the level on the sheet, within a count."""
    for reading, level in zip(input_readings(program_of(LOOP)), (200, 150, 100, 50, 0), strict=False):
        (shown,) = reading.shows
        assert (shown.tag, shown.unit) == ("level", "cm")
        assert shown.value == pytest.approx(level, abs=200 / 52428)


def test_the_tolerance_is_a_share_of_the_span() -> None:
    """0.5 % of 16 mA is 0.08 mA, and 262 counts; another share moves the limits with it."""
    middle = input_readings(program_of(LOOP))[2]
    assert (meter(middle).low, meter(middle).high) == (pytest.approx(11.92), pytest.approx(12.08))
    assert (band(middle).low, band(middle).high) == (39321 - 263, 39321 + 263)
    assert middle.shows[0].tolerance == pytest.approx(1.0, abs=0.01)
    wide = input_readings(program_of(LOOP), tolerance=1)[2]
    assert meter(wide).high == pytest.approx(12.16)


def test_an_output_gives_the_current_that_belongs_to_its_counts() -> None:
    """0..4095 on 4..20 mA: the ends are exact, the points between within half a count."""
    readings = output_readings(program_of(LOOP))[:5]
    assert [band(each).expected for each in readings] == [0, 1024, 2048, 3071, 4095]
    for reading, current in zip(readings, (4, 8, 12, 16, 20), strict=True):
        assert meter(reading).expected == pytest.approx(current, abs=16 / 4095 / 2)


def test_noise_of_a_transmitter_widens_its_limits() -> None:
    """2 mm of noise on 1 m as 0..10 V are 0.02 V, beside 0.05 V of tolerance."""
    readings = {each.name: each for each in input_readings(example("header_tank"))}
    assert meter(readings["X2:1 up 50 %"]).high == pytest.approx(5.07)


@pytest.mark.parametrize("name", ["header_tank", "press_guard", "ventilation_fan", "sump_pair", "dosing"])
def test_every_terminal_has_a_reading(name: str) -> None:
    """No terminal of an example is left without an expected reading of the meter."""
    program = example(name)
    assert program.plant is not None
    readings = [*input_readings(program), *output_readings(program)]
    wires = [*program.plant.inputs, *program.plant.outputs]
    assert {wire.terminal for wire in wires} == {each.terminal for each in readings}
    assert all(each.meter is not None for each in readings)
    assert len({each.name for each in readings}) == len(readings)


@pytest.mark.parametrize("name", ["header_tank", "press_guard"])
def test_a_contact_is_closed_in_the_position_that_the_sheet_says(name: str) -> None:
    """Each hand-worked contact, worked and let go in the model, is where the sheet has it."""
    program = example(name)
    assert program.plant is not None
    assembly = program.plant.assembly
    seen = 0
    for wire in program.plant.inputs:
        found = contact_at(program.plant, wire.source)
        hands = [] if found is None else [each for each in found[0].inputs if each.source == "operator"]
        if found is None or not hands:
            continue
        part, contact = found
        positions = {True: ("pressed", "pushed in", "guard shut"), False: ("let go", "let out", "guard open")}
        for worked in (True, False):
            env = {f"{part.name}.{hands[0].name}": worked}
            state = assembly.start()
            state = assembly.tick(PLAIN, state, assembly.look(PLAIN, state, env), {}, env)
            closed = bool(assembly.look(PLAIN, state, env)[str(wire.source)])
            assert closes_when(part, contact)[0 if closed else 1] in positions[worked]
            seen += 1
    assert seen >= 6


# ---------------------------------------------------------------------- matrix


def test_the_matrix_is_what_the_reference_engine_does(press: BenchSheets) -> None:
    """From every state, each cause runs again in the reference engine: the same effects, at the same times."""
    program = example("press_guard")
    for matrix in press.matrices:
        state = matrix.state
        for row in matrix.rows:
            story = state.story.__class__(
                state.at_ms + 600, (*state.story.events, Event(state.at_ms, row.cause.key, row.cause.value))
            )
            trace = reference_engine().run(program, story, watch=frozenset(), record=True).trace
            assert trace is not None
            columns = {**trace.tags, **trace.plant}
            for effect, cell, before in zip(matrix.effects, row.cells, matrix.before, strict=True):
                values = dict(zip(trace.times, columns[effect.key], strict=True))
                assert values[state.at_ms - 5] == before
                if cell.after_ms is not None and cell.after_ms < 600:
                    assert values[state.at_ms + cell.after_ms] == cell.value
                    assert values[state.at_ms + cell.after_ms - 5] != cell.value


def test_the_matrix_knows_the_emergency_stop_of_the_press(press: BenchSheets) -> None:
    """In mid-stroke the emergency stop takes valve and relay; letting it out brings neither back."""
    stroke = next(m for m in press.matrices if "PR1.moving" in m.state.on and "ram_down" in m.state.on)
    row = next(row for row in stroke.rows if row.cause.name.startswith("Push the emergency stop"))
    cells = dict(zip((effect.key for effect in stroke.effects), row.cells, strict=True))
    assert cells["PR1.energised"].value is False
    assert cells["PR1.energised"].stays
    assert cells["K1.pulled_in"].stays
    assert cells["ready_lamp"] == Cell()


def test_the_states_cover_what_the_scenarios_can_switch_on(press: BenchSheets) -> None:
    """Rest, the stroke, and the machine ready: each state has something on that no earlier one had."""
    assert press.matrices[0].state.on == ()
    covered: set[str] = set()
    for matrix in press.matrices[1:]:
        assert set(matrix.state.on) - covered
        covered |= set(matrix.state.on)
    assert {"ram_down", "PR1.energised", "PR1.moving", "K1.pulled_in", "ready_lamp", "P1.lit"} <= covered


def test_a_state_that_no_hand_can_meet_is_said_to_be_one(press: BenchSheets) -> None:
    """A stroke of 400 ms is over before somebody has opened the guard; rest lasts as long as one likes."""
    rest, *others = press.procedures
    assert rest.fleeting_ms is None
    assert all(each.fleeting_ms is not None and each.fleeting_ms < 400 for each in others)
    assert sheets_page(press).count("a hand is too slow") == len(others)
    assert all(each.fleeting_ms is None for each in bench_sheets(example("ventilation_fan")).procedures)


def test_no_step_leaves_open_what_must_come(press: BenchSheets) -> None:
    """A cause that does something only when it goes is said to do nothing while it stands."""
    chipper = bench_sheets(example("branch_chipper"))
    steps = [step for sheets in (press, chipper) for each in sheets.procedures for step in each.steps]
    assert all(step.expect for step in steps)
    assert any(step.expect == ("nothing changes while it stands",) and step.then for step in steps)


def test_a_state_to_test_from_stands_for_a_while_where_it_can() -> None:
    """A fan is tested while it runs on, not in the five milliseconds after somebody has pressed stop."""
    sheets = bench_sheets(example("ventilation_fan"))
    running = next(matrix.state for matrix in sheets.matrices if "heater_on" in matrix.state.on)
    assert running.stood_ms >= 500
    last = max(event.at_ms for event in running.story.events)
    assert running.at_ms - last >= 500


def test_a_program_without_scenarios_is_brought_to_life_by_its_buttons() -> None:
    """Where no scenario gets the machine going, buttons pressed in turn do."""
    text = (EXAMPLES / "ventilation_fan" / "plant.rung").read_text()
    rungs = (EXAMPLES / "ventilation_fan" / "controller.rung").read_text().replace('use "plant.rung"', "")
    sheets = bench_sheets(program_of(text + "\n" + rungs))
    assert any("F1.turning" in matrix.state.on for matrix in sheets.matrices)


# ----------------------------------------------------------------------- tests


def test_tests_that_move_something_are_marked(press: BenchSheets) -> None:
    """Every step from a state in which the ram moves bears the mark; at rest, none does that moves nothing."""
    rest, *others = press.procedures
    assert not any(step.moves for step in rest.steps)
    moving = [each for each in others if "PR1.moving" in each.title]
    assert moving
    assert all(step.moves for each in moving for step in each.steps)


def test_isolation_comes_before_step_1_and_restoring_after_the_last(press: BenchSheets) -> None:
    """The page has cautions, hazards and isolation first, then the checks, and restoring with signatures last."""
    page = sheets_page(press)
    order = ["Hazards in the files", "locked off", "Wiring list", "Input check", "Functional tests"]
    order += ["Put K1.2 back as it was.", "Every wire that was taken off", "Switch P24 on.", "is free again"]
    order += ["The emergency stop is let out", "The machine was run once", "Accepted by"]
    places = [page.rindex(each) for each in order]
    assert places == sorted(places)
    assert page.index("Cautions") < page.index("<nav")


def test_the_limits_are_said_before_the_readings_and_the_meter_is_written_down(press: BenchSheets) -> None:
    """Whoever measures reads first what the brackets mean, and writes down with what it was measured."""
    page = sheets_page(press)
    assert "calibrated until" in page[: page.index('id="wiring"')]
    inputs = page[page.index('id="inputs"') : page.index('id="outputs"')]
    assert inputs.index("In brackets the limits") < inputs.index("Switched inputs")


def test_only_what_the_machine_has_is_put_back(press: BenchSheets) -> None:
    """A press without floats is not asked for floats; a machine without an emergency stop lets none out."""
    page = sheets_page(press)
    restoring = page[page.index('id="restore"') :]
    assert "Guards are back" in restoring
    assert "Floats" not in restoring
    bare = sheets_page(replace(press, kinds=("float_switch",)))
    restoring = bare[bare.index('id="restore"') :]
    assert "Floats" in restoring
    assert "emergency stop" not in restoring


def test_everything_forced_is_put_right_at_the_end(press: BenchSheets) -> None:
    """A contact that a step works by hand stands in the list of what is put right."""
    assert any(step.undo == "put K1.2 back as it was" for each in press.procedures for step in each.steps)
    assert "Put K1.2 back as it was." in sheets_page(press)


# ----------------------------------------------------------------------- files


@given(st.text(max_size=30))
def test_no_cell_can_run_in_a_spreadsheet_and_each_reads_back(cell: str) -> None:
    """A cell never begins with a sign that a spreadsheet runs, unless it is a plain number."""
    written = harmless(cell)
    assert not written.startswith(("=", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"))
    if written.startswith(("+", "-")):
        float(written.replace(",", "."))
    assert as_written(written) == cell.strip() or cell != cell.strip() or cell.startswith("'")


def test_a_table_is_rfc_4180() -> None:
    """Commas, quotes and line ends inside cells survive; lines end with CR LF."""
    rows = [["a,b", 'say "x"', "two\nlines"], ["=1+1", "-2.5", "@x"]]
    text = csv_table(["one", "two", "three"], rows)
    assert text.startswith("one,two,three\r\n")
    read = list(csv.reader(io.StringIO(text)))[1:]
    assert [[as_written(cell) for cell in row] for row in read] == rows
    assert read[1] == ["'=1+1", "-2.5", "'@x"]


def test_all_tables_have_rows_as_long_as_their_heads(press: BenchSheets) -> None:
    """Four tables, read by the standard library's reader."""
    files = csv_files(press)
    assert set(files) == {"wiring.csv", "readings.csv", "cause_effect.csv", "tests.csv"}
    for name, text in files.items():
        head, *rows = list(csv.reader(io.StringIO(text)))
        assert rows, name
        assert {len(row) for row in rows} == {len(head)}, name


class Reader(HTMLParser):
    """Elements opened and closed in turn, and the attributes seen."""

    void = frozenset({"meta", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in self.void:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


HOSTILE = "<script>alert(1)</script> \u05d0\u05d1\u05d2 \u0627\u0644 & <img src=x onerror=alert(1)> " + "long " * 2000


def test_a_hostile_remark_stays_letters() -> None:
    """Markup, letters of another writing direction and 10,000 characters in a remark come out as text."""
    text = LOOP.replace("level_counts  input   int 0..65535", f'level_counts  input   int 0..65535 "{HOSTILE}"')
    page = sheets_page(bench_sheets(program_of(text)))
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    assert not reader.tags & {"script", "img", "iframe", "link", "object"}
    assert not any(name.startswith("on") for name in reader.attributes)
    assert "<bdi>&lt;script&gt;alert(1)&lt;/script&gt; \u05d0" in page
    assert "long " * 200 not in page
    assert "cut here; the file has" in page


def test_sheets_writes_the_same_bytes_twice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`rungproof sheets` on the same files gives the same files."""
    for folder in ("first", "second"):
        assert main(["sheets", str(EXAMPLES / "press_guard"), "-o", str(tmp_path / folder)]) == 0
    first, second = (sorted((tmp_path / folder).iterdir()) for folder in ("first", "second"))
    assert [each.read_bytes() for each in first] == [each.read_bytes() for each in second]
    assert [each.name for each in first] == [
        "cause_effect.csv",
        "readings.csv",
        "sheets.html",
        "tests.csv",
        "wiring.csv",
    ]
    assert "sheets.html: written" in capsys.readouterr().out


def test_files_without_a_plant_are_answered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without terminals there is nothing to put a meter on, and the command says so."""
    file = tmp_path / "a.rung"
    file.write_text(
        'controller "A" every 10 ms\n\ntags\n    a  input  bool\n    b  output  bool\n\nrung b\n    a\n    => b\n'
    )
    assert main(["sheets", str(file), "-o", str(tmp_path / "out")]) == 2
    assert "no terminal to put a meter on" in capsys.readouterr().err


def test_files_with_mistakes_give_no_sheets(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A mistake is shown with its place, and nothing is written."""
    file = tmp_path / "a.rung"
    file.write_text(LOOP.replace("=> valve_counts := 0", "=> valve_cuonts := 0"))
    assert main(["sheets", str(file), "-o", str(tmp_path / "out")]) == 2
    out = capsys.readouterr().out
    assert "valve_cuonts" in out
    assert "No sheets are written" in out
    assert list((tmp_path / "out").iterdir()) == []


def test_the_verb_gives_the_typed_result(press: BenchSheets) -> None:
    """`api.sheets(path)` is the command without its files; a cause stands for the time that the sheets say."""
    assert api.sheets(EXAMPLES / "press_guard") == press
    assert STANDS_MS == 10_000


def test_an_overload_relay_that_trips_is_a_cause_though_it_has_a_reset() -> None:
    """Only what a hand alone works is left to the hand; a relay that trips by itself is tried at its contact."""
    sheets = bench_sheets(example("branch_chipper"))
    causes = {row.cause.name: row.cause.do for matrix in sheets.matrices for row in matrix.rows}
    assert any(do.endswith("as when tripped: open it by hand, or take its wire off") for do in causes.values())
