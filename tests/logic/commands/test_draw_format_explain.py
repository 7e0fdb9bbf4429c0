"""`draw`, `format` and `explain`: commands that read and run nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rungproof.grammar import CATALOGUE
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS

Said = Callable[..., tuple[int, str, str]]


def test_draw_draws_all_or_the_named_rungs(said: Said, tmp_path: Path) -> None:
    """Names choose; a wrong name is answered with those there are; -o writes a file."""
    said("new", tmp_path / "first")
    code, out, _ = said("draw", tmp_path / "first", "trip")
    assert code == 0
    assert "overload_time" in out
    assert "rung reset" not in out
    assert out.endswith("licensed practice decide.\n")
    code, _, err = said("draw", tmp_path / "first", "tripp")
    assert code == 2
    assert "there are: reset, run, shown, trip" in err
    assert said("draw", tmp_path / "first", "-o", tmp_path / "all.txt")[0] == 0
    written = (tmp_path / "all.txt").read_text(encoding="utf-8")
    assert written.count("\nrung ") == 4
    assert written.endswith("licensed practice decide.\n")


def test_draw_writes_svg_into_a_folder_or_one_rung_into_a_file(said: Said, tmp_path: Path) -> None:
    """A folder gets a file for each rung and a page; FILE.svg wants exactly one rung."""
    said("new", tmp_path / "first")
    code, out, _ = said("draw", tmp_path / "first", "-o", tmp_path / "sheets")
    assert code == 0
    assert "4 drawings written" in out
    names = sorted(path.name for path in (tmp_path / "sheets").iterdir())
    assert names == ["index.html", "rung-reset.svg", "rung-run.svg", "rung-shown.svg", "rung-trip.svg"]
    assert said("draw", tmp_path / "first", "trip", "-o", tmp_path / "trip.svg")[0] == 0
    assert (tmp_path / "trip.svg").read_text(encoding="utf-8").startswith("<svg")
    code, _, err = said("draw", tmp_path / "first", "-o", tmp_path / "all.svg")
    assert code == 2
    assert "is one file, and there are 4 rungs to draw" in err
    assert said("draw", tmp_path / "first", "-o", tmp_path / "no" / "such")[0] == 2


def test_draw_tells_where_else_a_name_is_used(said: Said) -> None:
    """With --references: the terminal, the remark, the other rungs and the other contacts, by the names of rungs."""
    tank = Path(__file__).parents[3] / "examples" / "header_tank"
    _, plain, _ = said("draw", tank, "supply_cut", "permissive")
    code, out, _ = said("draw", tank, "supply_cut", "permissive", "--references")
    assert code == 0
    assert "read in" not in plain
    words = " ".join(out.split())
    assert "overflow_trip (line 31): Stays tripped through a power failure; memory; written in overflow" in words
    assert "K1 (line 24): relay; read in motor (K1.2), terminal X1:6 (K1.3)" in words
    assert max(map(len, out.splitlines())) <= 100


def test_draw_refuses_a_file_with_an_unreadable_line(said: Said, good: Path) -> None:
    """A drawing that lacks a line would be signed as if it were whole."""
    good.write_text(
        good.read_text(encoding="utf-8").replace("    stop_ok\n    =>", "    stop ok\n    =>"), encoding="utf-8"
    )
    code, out, _ = said("draw", good)
    assert code == 2
    assert "Nothing is drawn" in out


def test_format_lays_out_once_and_for_all(said: Said, good: Path) -> None:
    """--check changes nothing and ends with 1; format changes; then both are content."""
    tidy = good.read_text(encoding="utf-8")
    good.write_text(
        tidy.replace("    stop_ok\n", "        stop_ok\n").replace("\n", "\r\n"), encoding="utf-8", newline=""
    )
    before = good.read_bytes()
    assert said("format", good, "--check")[0] == 1
    assert good.read_bytes() == before
    assert said("format", good)[0] == 0
    assert good.read_bytes() == tidy.encode()
    assert said("format", good, "--check")[0] == 0


def test_format_leaves_a_half_finished_file_untouched(said: Said, good: Path) -> None:
    """It refuses with the diagnosis; the file keeps every byte."""
    good.write_text(good.read_text(encoding="utf-8") + "\nrung half\n    start_pb or\n", encoding="utf-8")
    before = good.read_bytes()
    code, out, _ = said("format", good)
    assert code == 2
    assert "left as it is" in out
    assert good.read_bytes() == before


def test_explain_knows_every_code_and_the_nearest(said: Said) -> None:
    """Each entry can be explained with a sample; a wrong code is answered with the nearest."""
    for code in CATALOGUE:
        done, out, _ = said("explain", code)
        assert done == 0
        assert out.startswith(f"{code}\n")
        assert all(sign.isprintable() for line in out.splitlines() for sign in line)
    for code in MISCONCEPTIONS:
        done, out, _ = said("explain", code)
        assert done == 0
        assert "requirement R1" in out
        assert "{tag}" not in out
    code, _, err = said("explain", "two-coil")
    assert code == 2
    assert "Did you mean two-coils" in err


def test_explain_shows_a_long_sample_round_the_place_of_the_mistake(said: Said) -> None:
    """Safety findings need a whole plant as a sample: the lines that matter are shown, the place marked."""
    for code, place in {
        "broken-wire-lets-run": "not stop_ok",
        "estop-program-only": "stop_ok       at X1:2   from S2",
        "contact-shared": "from K1.1",
    }.items():
        out = said("explain", code)[1]
        (marked,) = [line for line in out.splitlines() if line.startswith("      > ")]
        assert place in marked
        assert len(out.split("sample.rung, lines ")[1].splitlines()) <= 42
    assert not any("too big to show" in said("explain", code)[1] for code in CATALOGUE)


def test_explain_cuts_the_lines_of_a_text_that_is_wrong_by_its_size(said: Said) -> None:
    """What nobody can read is not printed whole, and the cut is seen."""
    for code in CATALOGUE:
        out = said("explain", code)[1]
        assert max(map(len, out.splitlines())) <= 8 + 200 + len(" ...")
        assert out.count("\n") < 250


def test_explain_tells_a_line_and_a_reason(said: Said, good: Path) -> None:
    """A line within its rung; a tag back to its causes; what is not there is answered with what is."""
    code, out, _ = said("explain", f"{good}:10")
    assert code == 0
    assert "lets power pass while stop_ok is on" in out
    scenario = '\nscenario "Press"\n    at 0 s set stop_ok on\n    at 1 s set start_pb on\n    ends at 2 s\n'
    good.write_text(good.read_text(encoding="utf-8") + scenario, encoding="utf-8")
    code, out, _ = said("explain", good, "--why", "pump")
    assert code == 0
    assert out.startswith("pump is on at 2 s\n")
    assert "Had stop_ok been off, pump would be" in " ".join(out.split())
    for wrong, words in {
        f"{good}:2": "stands nothing",
        str(good): "is a project",
        f"{good.parent / 'none.rung'}:3": "none.rung",
    }.items():
        code, _, err = said("explain", wrong)
        assert code == 2
        assert words in err
    for words, options in {
        "There are: pump, start_pb, stop_ok": ("--why", "pomp"),
        "ends at 2 s": ("--why", "pump", "--at", "3s"),
        "there are": ("--why", "pump", "--scenario", "No"),
        "none.rung": ("--why", "pump", "--story", "none.rung"),
        "goes with --why": ("--at", "3s"),
    }.items():
        code, _, err = said("explain", good, *options)
        assert code == 2
        assert words in err
