"""An exercise's own files: what is wrong in them is told to its author; a sheet gives nothing away."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from rungproof.logic.api import grade
from rungproof.logic.teaching.exercise import ExerciseError, load_exercise
from rungproof.logic.teaching.grade_tables import cell
from rungproof.logic.teaching.handed import handed_in
from rungproof.logic.teaching.handout import handout
from rungproof.logic.teaching.variant import swapped

FOLDER = Path(__file__).parents[3] / "examples" / "exercises"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """An exercise to spoil."""
    return Path(shutil.copytree(FOLDER / "01_seal_in", tmp_path / "mine"))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("minutes = 20", "minutes = 0", "minutes is the time"),
        ("minutes = 20", 'minutes = "long"', "minutes is the time"),
        ("title =", "titel =", "nobody knows the key titel"),
        ('title = "A fan that keeps running"', 'title = " "', "title is missing"),
        ("R5 = 2", "R5 = -1", "points.R5"),
        ('fan = ["fan"', 'fan = [3, "fan"', "varies.fan"),
        ("[points]", "[points", "is no TOML"),
        ("minutes = 20", 'minutes = 20\nkind = "essay"', "kind is one of"),
    ],
)
def test_a_mistake_in_the_table_is_told_with_its_key(copy: Path, old: str, new: str, words: str) -> None:
    """Its author gets one sentence, with the key, and never a traceback."""
    table = copy / "exercise.toml"
    text = table.read_text(encoding="utf-8")
    assert old in text
    table.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(ExerciseError, match=words.replace(".", r"\.")):
        load_exercise(copy)


@pytest.mark.parametrize(
    ("file", "spoil", "words"),
    [
        ("given.rung", lambda text: text.replace("tags", "tagz"), "given.rung"),
        ("hidden.rung", lambda text: text.replace("never fan", "never fam"), "hidden.rung"),
        ("solution.rung", lambda text: text.replace("stop_ok", "stop_okay"), "solution.rung"),
    ],
)
def test_files_of_the_exercise_that_cannot_be_run_are_its_authors_matter(
    copy: Path, file: str, spoil, words: str
) -> None:  # type: ignore[no-untyped-def]
    """No student is graded against an exercise that is wrong itself, and none reads of its hidden files."""
    path = copy / file
    path.write_text(spoil(path.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(ExerciseError, match=words):
        grade(copy, [FOLDER / "01_seal_in" / "solution.rung"])


def test_a_sheet_holds_neither_solution_nor_hidden_requirements() -> None:
    """Of no exercise; and it says that passing qualifies nobody."""
    for path in sorted(FOLDER.glob("*/exercise.toml")):
        exercise = load_exercise(path.parent)
        files = handout(exercise, "Anna")
        whole = "\n".join(files.values())
        assert "Passing does not qualify anyone to work on live equipment." in files["task.md"]
        assert "For Anna." in files["task.md"]
        for line in exercise.texts.get("hidden.rung", "").splitlines():
            assert not line.startswith(("requirement", "scenario")) or line not in whole, (path.parent.name, line)
        for block in exercise.texts.get("solution.rung", "").split("\n\n"):
            assert not block or block.strip() not in whole, (path.parent.name, block)


def test_a_hidden_scenario_that_fails_is_not_told() -> None:
    """Its name and events are what is hidden; the points say that there is one."""
    exercise = FOLDER / "10_three_boxes"
    (told,) = grade(exercise, [exercise / "wrong" / "forgets.rung"])
    (item,) = [item for item in told.items if not item.holds]
    assert (item.hidden, item.story, item.sentence, item.restatement) == (True, None, "", "")
    assert item.name.startswith("hidden")
    (shown,) = grade(exercise, [exercise / "wrong" / "forgets.rung"], reveal=True)
    assert any(item.story is not None and "cut controller" in item.story for item in shown.items)


def test_students_are_named_for_their_files_or_folders() -> None:
    """`anna.rung`, `ben/answer.rung`, a folder; a name that comes twice is numbered."""
    paths = [Path("anna.rung"), Path("ben/answer.rung"), Path("carla"), Path("other/anna.rung")]
    assert [each.student for each in handed_in(paths)] == ["anna", "ben", "carla", "anna (2)"]


def test_words_are_exchanged_whole_and_all_at_once() -> None:
    """`fan` in `fan_on` stays; two words that change places do not meet."""
    assert swapped("fan fan_on fan.x", {"fan": "blower"}) == "blower fan_on blower.x"
    assert swapped("up down", {"up": "down", "down": "up"}) == "down up"
    assert swapped("for 5 s, 15 s", {"5 s": "7 s"}) == "for 7 s, 15 s"


def test_a_cell_is_never_a_formula() -> None:
    """A name that begins like a formula gets an apostrophe before it; one in the middle stays."""
    assert [cell(text) for text in ("=1+1", "+1", "-1", "@x", "a=b", " \t=1")] == [
        "'=1+1",
        "'+1",
        "'-1",
        "'@x",
        "a=b",
        "'=1",
    ]
