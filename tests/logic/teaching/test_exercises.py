"""The exercises: every solution gets all points and no hint, every known wrong answer exactly its hint."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic.teaching.answer import read_task
from rungproof.logic.teaching.exercise import Exercise, load_exercise
from rungproof.logic.teaching.grading import grade_submission, grade_text
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS
from rungproof.logic.teaching.predict import grade_prediction, run_of, sheet
from rungproof.logic.teaching.reverse import grade_requirements
from rungproof.logic.teaching.submission import read_texts
from rungproof.logic.teaching.variant import variant_of

FOLDER = Path(__file__).parents[3] / "examples" / "exercises"
EXERCISES = {path.parent.name: load_exercise(path.parent) for path in sorted(FOLDER.glob("*/exercise.toml"))}
WITH_RUNGS = {name: each for name, each in EXERCISES.items() if each.kind == "rungs"}
WRONG = [(name, wrong) for name, each in WITH_RUNGS.items() for wrong in each.wrong]


def expected(text: str) -> str:
    """The code in `# expect: CODE`."""
    return text.partition("# expect:")[2].split()[0]


def test_there_are_twelve_and_more_with_three_wrong_answers_each() -> None:
    """Every exercise says how long a beginner needs, and brings answers that are known to be wrong."""
    assert len(WITH_RUNGS) >= 12
    assert {each.kind for each in EXERCISES.values()} == {"rungs", "predict", "requirements"}
    for each in EXERCISES.values():
        assert 5 <= each.minutes <= 90
        assert len(each.task) > 100
    for each in WITH_RUNGS.values():
        assert len(each.wrong) >= 3, each.name
        assert all(expected(text) in MISCONCEPTIONS for text in each.wrong.values())


@pytest.mark.parametrize("name", WITH_RUNGS)
def test_a_solution_gets_all_points_and_no_hint(name: str) -> None:
    """And what it speaks of tags alone is proved, not only searched."""
    exercise = WITH_RUNGS[name]
    grade = grade_text(exercise, exercise.texts["solution.rung"])
    assert grade.outcome == "graded", grade.reason
    assert grade.points == grade.worth > 0, [item for item in grade.items if not item.holds]
    assert grade.first_hint is None
    assert grade.notes == ()
    of_machine = {r.name for r in requirements(exercise) if r.looked_at == "at the machine" or r.outputs_free}
    for item in grade.items:
        assert item.word in ("proved", "as expected") or item.name in of_machine, item


def requirements(exercise: Exercise):  # type: ignore[no-untyped-def]
    task = read_task(exercise)
    submission = read_texts({"solution.rung": exercise.texts["solution.rung"]})
    program, _ = task.program(_answer(task, submission))
    assert program is not None
    return program.requirements


def _answer(task, submission):  # type: ignore[no-untyped-def]
    from rungproof.logic.teaching.answer import answer_of

    return answer_of(task, submission)[0]


def test_a_blank_sheet_that_comes_back_is_graded() -> None:
    """No rung at all is an answer, though hidden requirements speak of `scanning` and `power_up`."""
    exercise = WITH_RUNGS["02_two_hands"]
    assert "scanning" in exercise.texts["hidden.rung"] and "power_up" in exercise.texts["hidden.rung"]
    grade = grade_text(exercise, exercise.texts["given.rung"])
    assert (grade.outcome, grade.points) == ("graded", 0), grade.reason  # what never moves is safe, and earns nothing


@pytest.mark.parametrize(("name", "wrong"), WRONG, ids=lambda value: value)
def test_a_wrong_answer_gets_exactly_its_hint_first(name: str, wrong: str) -> None:
    """The misconception that the author of the exercise expects, with a story that shows the failure."""
    exercise = WITH_RUNGS[name]
    text = exercise.wrong[wrong]
    grade = grade_text(exercise, text)
    assert grade.outcome == "graded", grade.reason
    assert grade.points < grade.worth
    assert grade.first_hint is not None
    assert grade.first_hint.code == expected(text)
    failed = next(item for item in grade.items if not item.holds)
    assert failed.story is not None
    assert failed.story.startswith('scenario "')


@pytest.mark.parametrize(
    ("name", "said", "instead"),
    [
        pytest.param("03_in_turn", "    call\n", "", id="pumps without a call"),
        pytest.param(
            "04_first_out", "    not pressure_ok\n", "    not pressure_ok or not flow_ok\n", id="names another"
        ),
        pytest.param("04_first_out", "    first_flow\n    =>", "    first_flow or first_pressure\n    =>", id="lamps"),
        pytest.param(
            "04_first_out", "    pressure_ok\n    flow_ok\n", "    pressure_ok or flow_ok\n", id="one is live"
        ),
        pytest.param("09_steps", "    empty\n    not filling", "    not filling", id="fills what is not empty"),
        pytest.param("10_three_boxes", "count-up 3", "count-up 2", id="two boxes"),
        pytest.param("11_up_and_down", "    down_pb\n", "    down_pb or down\n", id="goes on down by itself"),
    ],
)
def test_a_slip_in_a_solution_costs_points(name: str, said: str, instead: str) -> None:
    """What the task asks for is asked of the rungs too: each of these says something else."""
    solution = WITH_RUNGS[name].texts["solution.rung"]
    assert said in solution
    grade = grade_text(WITH_RUNGS[name], solution.replace(said, instead))
    assert (grade.outcome, grade.points < grade.worth) == ("graded", True), grade.reason


@pytest.mark.parametrize("name", [name for name, each in WITH_RUNGS.items() if each.varies])
def test_every_variant_is_as_sound_as_the_exercise(name: str) -> None:
    """Another student's names: the solution still gets all points, a wrong answer still its hint."""
    exercise = WITH_RUNGS[name]
    seen = {
        variant_of(exercise, student, 1).texts["given.rung"] for student in ("Anna", "Ben", "Carla", "Dora", "Emil")
    }
    assert len(seen) > 1
    own = variant_of(exercise, "Anna", 1)
    assert own == variant_of(exercise, "anna", 1)
    assert grade_text(own, own.texts["solution.rung"]).first_hint is None
    text = next(iter(own.wrong.values()))
    hint = grade_text(own, text).first_hint
    assert hint is not None
    assert hint.code == expected(text)


def test_a_prediction_is_graded_scan_by_scan(tmp_path: Path) -> None:
    """The true table gets all points; one wrong cell is found, and its scan named; the sheet gives nothing away."""
    exercise = next(each for each in EXERCISES.values() if each.kind == "predict")
    run = run_of(exercise)
    empty = sheet(run)
    assert all(row.endswith(",,,") for row in empty.splitlines()[1:])
    rows = [["scan_end_ms", *run.asked]]
    for row, time in enumerate(run.times):
        rows.append([str(time), *("on" if run.values[name][row] else "off" for name in run.asked)])
    path = tmp_path / "answer.csv"
    path.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    grade = grade_prediction(exercise, path, "Anna")
    assert (grade.points, grade.first_hint) == (grade.worth, None)
    rows[4][1] = "on" if rows[4][1] == "off" else "off"
    path.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    grade = grade_prediction(exercise, path, "Anna")
    assert grade.points < grade.worth
    assert grade.items[0].word == f"right in {len(run.times) - 1} of {len(run.times)} scans"
    assert grade.items[0].at_ms == run.times[3]
    assert grade.first_hint is not None
    assert "40 ms" in grade.first_hint.question


def test_requirements_are_judged_by_the_mistakes_they_notice() -> None:
    """The teacher's notice all; half of them miss some, with a hint; one that is not so is told first."""
    exercise = next(each for each in EXERCISES.values() if each.kind == "requirements")
    text = exercise.texts["solution.rung"]
    whole = grade_requirements(exercise, read_texts({"answer.rung": text}), "Anna")
    assert (whole.points, whole.first_hint) == (whole.worth, None)
    assert whole.worth == len(exercise.wrong) + 5
    made_up = whole.items[-1].word
    assert made_up.endswith("noticed")
    assert int(made_up.split()[0]) == int(made_up.split()[2]) > 10
    some = grade_requirements(exercise, read_texts({"answer.rung": "\n\n".join(text.split("\n\n")[:2])}), "Anna")
    assert 0 < some.points < whole.points
    assert some.first_hint is not None
    assert some.first_hint.code == "not-noticed"
    false = 'requirement R1 "It never goes up"\n    never up\n'
    wrong = grade_requirements(exercise, read_texts({"answer.rung": false}), "Anna")
    assert wrong.points == 0
    assert wrong.first_hint is not None
    assert wrong.first_hint.code == "not-so"


def test_an_answer_with_a_plant_and_requirements_of_its_own_is_graded_by_the_task_alone() -> None:
    """Nobody grades himself: what is not rungs or memories is left aside, and said."""
    exercise = WITH_RUNGS["01_seal_in"]
    text = exercise.wrong["door_forgotten"] + (
        '\nrequirement R4 "The open door ends the run"\n    never fan and not fan\n'
        '\nassume "The door is shut"\n    door_ok\n'
    )
    grade = grade_submission(read_task(exercise), read_texts({"answer.rung": text}), "Anna")
    assert "R4" in [item.name for item in grade.items if not item.holds]
    assert any("requirements of your own" in note for note in grade.notes)
    assert any("`assume`" in note for note in grade.notes)
