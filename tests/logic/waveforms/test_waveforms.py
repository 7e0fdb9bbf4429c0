"""Waveforms: what is written is what ran, read back by libraries that are none of ours."""

from __future__ import annotations

import csv
import io
import re
import sys
from pathlib import Path
from signal import SIG_IGN, Signals
from signal import signal as on_signal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.api import understand
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.commands.main import main
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.waveforms.csv_trace import csv_text
from rungproof.logic.waveforms.parquet import MissingLibraryError, parquet_bytes
from rungproof.logic.waveforms.vcd import vcd_text
from rungproof.logic.waveforms.wave import Signal, Wave, wave_of
from vcd.reader import TokenKind, tokenize
from vcdvcd import VCDVCD

# That reader lets a pipe that nobody reads end the whole process, from its import on; tests are to see an error.
if hasattr(Signals, "SIGPIPE"):
    on_signal(Signals.SIGPIPE, SIG_IGN)

EXAMPLES = Path(__file__).parents[3] / "examples"

#: Sump pair: pumps start, a wire comes off, a horn sounds.
STORY = Story(
    900,
    (
        Event(0, "seepage.demand", 40.0),
        Event(100, "S3.pressed", True),
        Event(200, "S3.pressed", False),
        Event(300, "X1:3!wire_broken", True),
    ),
)


@pytest.fixture(scope="module")
def program() -> Program:
    """The sump pair, with a plant, numbers, contacts and a terminal that can lose its wire."""
    program = understand(EXAMPLES / "sump_pair").program
    assert program is not None
    return program


@pytest.fixture(scope="module")
def wave(program: Program) -> Wave:
    return wave_of(program, STORY, "a story")


def values_by_tokens(text: str) -> dict[str, list[tuple[int, Any]]]:
    """Changes by full name, as pyvcd's tokenizer reads them."""
    names: dict[str, tuple[str, str]] = {}
    found: dict[str, list[tuple[int, Any]]] = {}
    scope: list[str] = []
    now = 0
    for token in tokenize(io.BytesIO(text.encode("ascii"))):
        if token.kind is TokenKind.SCOPE:
            scope.append(token.scope.ident)
        elif token.kind is TokenKind.UPSCOPE:
            scope.pop()
        elif token.kind is TokenKind.VAR:
            name = ".".join([*scope, token.var.reference])
            assert name not in found, f"{name} is declared twice"
            names[token.var.id_code] = name, token.var.type_.value
            found[name] = []
        elif token.kind is TokenKind.CHANGE_TIME:
            now = token.time_change
        elif token.kind is TokenKind.CHANGE_SCALAR:
            found[names[token.scalar_change.id_code][0]].append((now, token.scalar_change.value == "1"))
        elif token.kind is TokenKind.CHANGE_VECTOR:
            value = int(token.vector_change.value)
            signed = value - (1 << 64) if value >= 1 << 63 else value
            found[names[token.vector_change.id_code][0]].append((now, signed))
        elif token.kind is TokenKind.CHANGE_REAL:
            found[names[token.real_change.id_code][0]].append((now, token.real_change.value))
    assert scope == []
    return found


def held(changes: list[tuple[int, Any]], times: list[int]) -> list[Any]:
    """The value at each instant."""
    return [next(value for at, value in reversed(changes) if at <= time) for time in times]


def vcd_name(signal: Signal) -> str:
    return ".".join(re.sub(r"[^A-Za-z0-9_]", "_", each) for each in signal.path)


def test_a_tokenizer_reads_every_value_of_every_instant_back(wave: Wave) -> None:
    """Scopes, names, truths, whole numbers and reals come back from the dump as they ran (reader: pyvcd)."""
    read = values_by_tokens(vcd_text(wave))
    assert len(read) == len(wave.signals) > 50
    for signal in wave.signals:
        assert held(read[vcd_name(signal)], list(wave.times)) == list(signal.values), signal.name


def test_a_second_reader_finds_the_same_changes(wave: Wave, tmp_path: Path) -> None:
    """vcdvcd, written by other people, gives the same changes of every signal as pyvcd does."""
    text = vcd_text(wave)
    path = tmp_path / "story.vcd"
    path.write_text(text, encoding="ascii")
    other = VCDVCD(str(path))
    assert other.timescale["unit"] == "ms"
    expected = values_by_tokens(text)
    assert set(other.references_to_ids) == set(expected)
    for name, changes in expected.items():
        got = [(time, value) for time, value in other[name].tv]
        assert [time for time, _ in got] == [time for time, _ in changes], name
        for (_, raw), (_, value) in zip(got, changes, strict=True):
            told = float(raw) if isinstance(value, float) else int(raw, 2)
            assert told == (value % (1 << 64) if type(value) is int else value), name


def test_the_dump_shows_what_the_reference_engine_saw(program: Program, wave: Wave) -> None:
    """What is written down is the run that the definition gives, at every instant."""
    trace = reference_engine().run(program, STORY, watch=frozenset(), record=True).trace
    assert trace is not None
    assert list(wave.times) == trace.times
    columns = {**trace.tags, **trace.plant}
    for signal in wave.signals:
        if signal.path[0] != "given":
            assert list(signal.values) == columns[signal.name], signal.name


def test_what_the_story_sets_stands_beside_what_came_of_it(wave: Wave) -> None:
    """A hand on a button, the world and a broken wire are signals too, from the instant on at which they are set."""
    told = {signal.name: signal for signal in wave.signals}
    assert held_at(wave, told["S3.pressed"], 95) == (False, True)
    assert held_at(wave, told["X1:3!wire_broken"], 295) == (False, True)
    assert set(told["seepage.demand"].values) == {40.0}
    assert told["seepage.demand"].unit == "L/min"


def held_at(wave: Wave, signal: Signal, at_ms: int) -> tuple[Any, Any]:
    """The values of the last instant up to `at_ms` and of the next one."""
    place = max(place for place, at in enumerate(wave.times) if at <= at_ms)
    return signal.values[place], signal.values[place + 1]


@given(
    st.lists(st.tuples(st.text(min_size=1, max_size=6), st.integers(-(2**53), 2**53)), min_size=1, max_size=120),
    st.text(max_size=30),
)
def test_no_name_and_no_title_can_break_the_dump(entries: list[tuple[str, int]], title: str) -> None:
    """Whatever signs names hold, and however many signals there are, each is declared once and read back."""
    signals = tuple(Signal(name, ("given", name), "int", "$end", [value, -value]) for name, value in entries)
    read = values_by_tokens(vcd_text(Wave(title, [5, 10], signals)))
    assert [held(changes, [5, 10]) for changes in read.values()] == [[value, -value] for _, value in entries]


def test_the_table_reads_back_to_the_same_bits(wave: Wave) -> None:
    """CSV as RFC 4180 has it: every row as long as its head, lines ended by CR LF, numbers with all digits."""
    text = csv_text(wave)
    assert text.count("\r\n") == text.count("\n") == len(wave.times) + 1
    head, *rows = list(csv.reader(io.StringIO(text)))
    assert head[0] == "time_s"
    assert [round(float(row[0]) * 1000) for row in rows] == list(wave.times)
    for place, signal in enumerate(wave.signals, start=1):
        assert head[place] == (f"{signal.name} [{signal.unit}]" if signal.unit else signal.name)
        read: list[Any] = [row[place] == "1" if signal.type == "bool" else float(row[place]) for row in rows]
        assert read == list(signal.values)


def test_a_thinned_table_has_the_first_instant_of_each_interval_and_the_last(wave: Wave) -> None:
    """`--every` thins rows, never the end."""
    rows = list(csv.reader(io.StringIO(csv_text(wave, every_ms=250))))[1:]
    assert [row[0] for row in rows] == ["0.010", "0.250", "0.500", "0.750", "0.900"]


def test_parquet_reads_back_equal_with_units(wave: Wave) -> None:
    """The columns that pyarrow reads are the columns that ran, and each says its unit."""
    pq = pytest.importorskip("pyarrow.parquet")
    table = pq.read_table(io.BytesIO(parquet_bytes(wave)))
    assert table.column("time_ms").to_pylist() == list(wave.times)
    for signal in wave.signals:
        assert table.column(signal.name).to_pylist() == list(signal.values)
        metadata = table.schema.field(signal.name).metadata or {}
        assert metadata.get(b"unit", b"").decode() == (signal.unit or "")
    assert b"not a safety-rated tool" in table.schema.metadata[b"note"]


def test_a_missing_library_is_told_with_its_extra(wave: Wave, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without pyarrow there is no Parquet file, and the error names what to install."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(MissingLibraryError) as caught:
        parquet_bytes(wave)
    assert (caught.value.library, caught.value.extra) == ("pyarrow", "parquet")


# ---------------------------------------------------------------- command line


def test_run_writes_all_three_and_the_same_bytes_twice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`run --vcd --csv --parquet` writes them beside its text; the same command gives the same files."""
    pytest.importorskip("pyarrow")
    written: list[list[bytes]] = []
    for folder in ("first", "second"):
        there = tmp_path / folder
        there.mkdir()
        files = [there / name for name in ("a.vcd", "a.csv", "a.parquet")]
        options = [str(each) for pair in zip(("--vcd", "--csv", "--parquet"), files, strict=True) for each in pair]
        assert main(["run", str(EXAMPLES / "sump_pair"), "--for", "500ms", "--every", "100ms", *options]) == 0
        assert "a.vcd" in capsys.readouterr().out
        written.append([file.read_bytes() for file in files])
    assert written[0] == written[1]


def test_only_narrows_what_is_written(tmp_path: Path) -> None:
    """`--only` names the signals of the file, too."""
    file = tmp_path / "a.csv"
    where = str(EXAMPLES / "sump_pair")
    assert main(["run", where, "--for", "100ms", "--only", "sump.level,S3.1", "--csv", str(file)]) == 0
    assert file.read_text().splitlines()[0] == "time_s,sump.level [cm],S3.1"


def test_parquet_without_its_library_ends_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, what to install, no file and no half of one."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    where = str(EXAMPLES / "sump_pair")
    assert main(["run", where, "--for", "100ms", "--parquet", str(tmp_path / "a.parquet")]) == 2
    assert 'pip install "rungproof[parquet]"' in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_written_is_told_before_anything_runs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong folder ends the command at once, with the path."""
    where = str(EXAMPLES / "sump_pair")
    assert main(["run", where, "--csv", str(tmp_path / "a.csv"), "--vcd", str(tmp_path / "no" / "a.vcd")]) == 2
    said = capsys.readouterr()
    assert "cannot be written" in said.err
    assert said.out == ""
    assert list(tmp_path.iterdir()) == []


def test_replay_writes_its_one_story_and_refuses_two(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A waveform is of one run: a story file with two scenario blocks is answered with that."""
    one = 'scenario "a"\n    at 0 s   press S3 for 50 ms\n    ends at 200 ms\n'
    story = tmp_path / "story.rung"
    file = tmp_path / "a.csv"
    story.write_text(one)
    assert main(["replay", str(EXAMPLES / "sump_pair"), str(story), "--csv", str(file)]) == 0
    assert "S3.pressed" in file.read_text()
    file.unlink()
    story.write_text(one + "\n" + one.replace('"a"', '"b"'))
    assert main(["replay", str(EXAMPLES / "sump_pair"), str(story), "--csv", str(file)]) == 2
    assert "2 scenario blocks" in capsys.readouterr().err
    assert not file.exists()
