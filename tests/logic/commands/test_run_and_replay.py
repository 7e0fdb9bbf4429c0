"""`run` and `replay`: what they tell, show and write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

IN_THE_MODEL = "In the model; nothing was measured on a machine."


Said = Callable[..., tuple[int, str, str]]


def test_run_tells_events_and_changes_in_order(said: Said, tmp_path: Path) -> None:
    """Times stand on the left, what people do is marked, what was expected stands below."""
    said("new", tmp_path / "first")
    code, out, _ = said("run", tmp_path / "first", "--scenario", "A start")
    assert code == 0
    lines = [line.strip() for line in out.splitlines()]
    order = ["1.000 s > set start_pb on", "1.010 s   start_pb on, motor on", "3.010 s   stop_ok off, motor off"]
    places = [lines.index(line) for line in order if line in lines]
    assert len(places) == 3
    assert places == sorted(places)
    assert "met        From the last event until 5 s later, motor must be off." in out
    assert IN_THE_MODEL in out


def test_run_without_a_scenario_names_those_there_are(said: Said, tmp_path: Path) -> None:
    """Nothing happens in it, for as long as asked."""
    said("new", tmp_path / "first")
    code, out, _ = said("run", tmp_path / "first", "--for", "1s", "--only", "motor")
    assert code == 0
    assert '"A start, a stop, and no restart by itself"' in out


def test_a_file_of_the_project_is_no_story(said: Said, good: Path) -> None:
    """It is not read a second time, so that every tag of it would be there twice."""
    code, out, err = said("replay", good, good)
    assert (code, out) == (2, "")
    assert "is a file of the project itself, not a story" in err


def test_why_without_a_scenario_says_that_there_is_none(said: Said, good: Path) -> None:
    """Not that none is called "", which nobody asked for."""
    code, _, err = said("explain", good, "--why", "motor")
    assert code == 2
    assert "There is no scenario in these files" in err


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--scenario", "No such"), "There is no scenario in these files"),
        (("--only", "moter"), "no tag or signal is called `moter`"),
        (("--for", "100000 h"), "too long to be told"),
    ],
)
def test_run_refuses_what_it_cannot_tell(said: Said, good: Path, options: tuple[str, ...], words: str) -> None:
    """A wrong option is one clear message and exit code 2."""
    code, out, err = said("run", good, *options)
    assert (code, out) == (2, "")
    assert words in err


def test_replay_of_what_is_no_story_is_answered_by_its_diagnosis(said: Said, good: Path, tmp_path: Path) -> None:
    """The story file's own mistakes are shown at their own places."""
    story = tmp_path / "story.rung"
    story.write_text('scenario "x"\n    at 0 s press nobody\n', encoding="utf-8")
    code, out, _ = said("replay", good, story)
    assert code == 2
    assert "story.rung:2:" in out
    assert said("replay", good, tmp_path / "none.rung")[0] == 2
    story.write_text("# nothing yet\n", encoding="utf-8")
    code, _, err = said("replay", good, story)
    assert code == 2
    assert "holds no `scenario` block" in err


def test_run_shows_and_writes_a_strip_chart(said: Said, good: Path, tmp_path: Path) -> None:
    """--chart takes the place of the account; --chart-svg writes a picture; a wrong place is told at once."""
    code, out, _ = said("run", good, "--for", "1s", "--chart", "--chart-svg", tmp_path / "chart.svg")
    assert code == 0
    assert "off throughout: start_pb, stop_ok, pump" in out
    assert (tmp_path / "chart.svg").read_text(encoding="utf-8").startswith("<svg")
    assert said("run", good, "--chart-svg", tmp_path / "no" / "chart.svg")[0] == 2


def test_run_writes_a_page_to_step_through(said: Said, good: Path, tmp_path: Path) -> None:
    """One file; a run too long for a page is refused in a sentence."""
    code, out, _ = said("run", good, "--for", "1s", "--page", tmp_path / "run.html")
    assert code == 0
    assert "a page of 100 frames to step through" in out
    assert (tmp_path / "run.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    code, _, err = said("run", good, "--for", "5 h", "--page", tmp_path / "run.html", "--only", "pump")
    assert code == 2
    assert "too long for a page" in err


def test_replay_shows_the_instant_of_violation_in_a_chart(said: Said, wrong: Path, tmp_path: Path) -> None:
    """The chart of a counterexample marks where it breaks the requirement."""
    story = tmp_path / "story.rung"
    story.write_text(
        'scenario "told"\n    at 0 s      set stop_ok on\n    at 0 s      set start_pb on\n'
        "    at 20 ms    set stop_ok off\n    at 40 ms    set stop_ok on\n    ends        at 60 ms\n",
        encoding="utf-8",
    )
    code, out, _ = said("replay", wrong, story, "--chart")
    assert code == 1
    assert "0.050 s ! R2 violated" in out
    assert "not stop_ok came: no pump until rising start_pb; violated at 50 ms" in " ".join(out.split())
