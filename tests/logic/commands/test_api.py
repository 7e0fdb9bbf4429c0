"""The Python API: the verbs of the command line as functions with typed results."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import rungproof.logic as door
from rungproof.logic import (
    Bench,
    FilesWrongError,
    chart,
    check,
    draw,
    draw_svg,
    format,
    independence,
    page,
    replay,
    run,
    understand,
)


def test_the_door_opens_to_every_name_it_lists() -> None:
    """Whatever stands in `__all__` can be had, and nothing else by accident."""
    for name in door.__all__:
        assert getattr(door, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'chek'"):
        _ = door.chek
    assert set(door.__all__) <= set(dir(door))


def test_a_folder_of_its_name_does_not_stand_in_a_verb_s_way() -> None:
    """Whatever was imported before: `faults` is the function, and the folder's modules are had all the same."""
    code = (
        "import rungproof.logic.faults.table, rungproof.logic.coverage.measure\n"
        "from rungproof.logic.mutants.hunt import hunt\n"
        "from rungproof.logic import check, coverage, faults, mutants\n"
        "print(all(map(callable, (check, coverage, faults, mutants, hunt, rungproof.logic.faults))))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("True\n", "")


def test_what_has_been_read_is_not_read_again(good: Path) -> None:
    """A verb takes a path or what `understand` gave for it."""
    understood = understand(good)
    good.unlink()
    assert independence(understood).hazards == ()
    assert check(understood, time_s=1).verdict("R1").word == "proved"
    assert run(understood, for_ms=50).exit_code == 0
    assert "Run of good.rung" in page(understood, for_ms=50)
    assert check(good).exit_code == 2


def test_importing_the_door_costs_nothing() -> None:
    """Neither parser nor engines are loaded before a verb is asked for."""
    code = "import sys, rungproof.logic; print({'lark', 'numpy', 'hypothesis'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"


def test_check_gives_verdicts_by_name(wrong: Path) -> None:
    """Words, story and exit code of the whole are attributes; a notebook shows a table."""
    result = check(wrong, time_s=1)
    assert [verdict.word for verdict in result.verdicts] == ["violated", "proved"]
    assert result.verdict("R2").story_text is not None
    assert result.exit_code == 1
    assert "nothing was measured on a machine" in result._repr_html_()


def test_check_of_what_cannot_be_run_is_a_result_with_diagnoses(tmp_path: Path) -> None:
    """Nothing is raised for what files say; the exit code is 2."""
    result = check(tmp_path / "nowhere.rung")
    assert (result.exit_code, result.verdicts) == (2, ())
    assert result.diagnoses[0].code == "path-missing"


def test_a_run_can_be_had_as_a_chart_and_as_a_page(wrong: Path, tmp_path: Path) -> None:
    """From a scenario, a story file or an idle run; notebooks show the chart; rungs come as SVG by file name."""
    story = check(wrong, time_s=1).verdict("R2").story_text
    assert story is not None
    told = tmp_path / "told.rung"
    told.write_text(story, encoding="utf-8")
    result = chart(wrong, story=told)
    assert [violation.name for violation in result.strip.violations] == ["R2"]
    assert result._repr_svg_().startswith("<svg")
    assert "! R2 violated" in result.text(width=80)
    assert page(wrong, story=told).startswith("<!DOCTYPE html>")
    assert chart(wrong, for_ms=50).strip.last_ms == 50
    for content in (b"scenario\n", b"\xff\xfe\x00"):
        told.write_bytes(content)
        with pytest.raises(FilesWrongError):
            chart(wrong, story=told)
    assert set(draw_svg(wrong)) == {"index.html", "rung-run.svg"}


def test_run_tells_the_moments(tmp_path: Path, good: Path) -> None:
    """A scenario's run by the beginning of its name; changes with their instants."""
    lines = [
        "",
        'scenario "A start"',
        "at 0 s set stop_ok on",
        "at 1 s set start_pb on",
        "expect pump",
        "ends at 3 s",
        "",
    ]
    good.write_text(
        good.read_text(encoding="utf-8") + "\n    ".join(lines).replace("    scen", "scen"), encoding="utf-8"
    )
    result = run(good, "a st", every_ms=500)
    assert result.exit_code == 0
    assert [(m.at_ms, m.changes) for m in result.account.moments if ("pump", True) in m.changes] == [
        (1010, (("start_pb", True), ("pump", True)))
    ]
    assert "start_pb" in result._repr_html_()
    with pytest.raises(KeyError, match="A start"):
        run(good, "Another")


def test_a_run_of_broken_files_raises_with_the_errors_as_text(tmp_path: Path) -> None:
    """`FilesWrongError` prints what `check` prints."""
    path = tmp_path / "broken.rung"
    path.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    with pytest.raises(FilesWrongError, match=r"broken\.rung:2:") as raised:
        run(path)
    assert raised.value.diagnoses
    with pytest.raises(FilesWrongError):
        draw(path)


def test_a_story_from_check_replays(tmp_path: Path, wrong: Path) -> None:
    """Its requirement is violated at the same instant."""
    verdict = check(wrong, time_s=1).verdict("R2")
    story = tmp_path / "story.rung"
    story.write_text(verdict.story_text or "", encoding="utf-8")
    assert replay(wrong, story).violated["R2"] == verdict.violated_at


def test_draw_format_understand_and_bench_take_a_path(good: Path) -> None:
    """Text or `Path`, a file or a folder."""
    assert "--( )--" in draw(str(good), ["run"]).replace("--( )---", "--( )--")
    with pytest.raises(KeyError, match="there are: run"):
        draw(good, ["walk"])
    assert format(good.parent, check=True).changed == ()
    assert understand(good).program is not None
    assert Bench(good).scan(stop_ok=True).stop_ok is True
