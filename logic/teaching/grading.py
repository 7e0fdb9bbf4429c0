"""Grading one submission, in the process that was made for it."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.teaching.answer import OURS, Task, answer_of, read_task
from rungproof.logic.teaching.exercise import SOLUTION, Exercise, ExerciseError
from rungproof.logic.teaching.grade import Grade, Item
from rungproof.logic.teaching.hints import Graded, does_not_run, hint_for
from rungproof.logic.teaching.judging import Judged, judge
from rungproof.logic.teaching.submission import RefusedError, Submission, read_submission, read_texts


def grade_path(exercise: Exercise, path: Path, student: str, seed: int = 0) -> Grade:
    """Grade what stands at `path`. Nothing that it says is raised: it is graded, or refused with a reason."""
    began = time.monotonic()
    try:
        grade = _graded(exercise, path, student, seed)
    except RefusedError as error:
        grade = Grade(student, exercise.name, "refused", reason=str(error))
    except RecursionError:
        grade = Grade(student, exercise.name, "refused", reason="it is nested too deeply to be read")
    except MemoryError:
        grade = Grade(student, exercise.name, "stopped", reason="it needs more memory than there is for one answer")
    return replace(grade, seconds=time.monotonic() - began)


def _graded(exercise: Exercise, path: Path, student: str, seed: int) -> Grade:
    if exercise.kind == "predict":
        from rungproof.logic.teaching.predict import grade_prediction

        return grade_prediction(exercise, path, student)
    submission = read_submission(path)
    if exercise.kind == "requirements":
        from rungproof.logic.teaching.reverse import grade_requirements

        return grade_requirements(exercise, submission, student)
    return grade_submission(read_task(exercise), submission, student, seed)


def ready(exercise: Exercise, solution: str) -> None:
    """Read the exercise and its solution once. Raises `ExerciseError` where they cannot be run together."""
    task = read_task(exercise)
    submission = read_texts({SOLUTION: solution})
    try:
        answer, _ = answer_of(task, submission)
    except RefusedError as error:
        raise ExerciseError(f"{SOLUTION}: {error}") from error
    program, found = task.program(answer)
    wrong = _errors((*submission.diagnoses, *found))
    if program is None or wrong:
        raise ExerciseError(_own_mistake(wrong))


def grade_text(exercise: Exercise, text: str, student: str = "student") -> Grade:
    """Grade an answer at hand."""
    return grade_submission(read_task(exercise), read_texts({"answer.rung": text}), student)


def grade_submission(task: Task, submission: Submission, student: str, seed: int = 0) -> Grade:
    """Grade rungs. Raises `RefusedError`, and `ExerciseError` where the exercise itself cannot be run."""
    name = task.exercise.name
    wrong = _errors(submission.diagnoses)
    if wrong:
        return _does_not_run(student, name, wrong, submission)
    answer, notes = answer_of(task, submission)
    program, found = task.program(answer)
    if program is None:
        wrong = tuple(d for d in _errors(found) if not d.span.file.startswith(OURS))
        if not wrong:
            raise ExerciseError(_own_mistake(found))
        return _does_not_run(student, name, wrong, submission, notes)
    judged = judge(program, seed)
    names = {each.name for each in program.requirements}
    held = frozenset(each.name for each in judged if each.holds and each.name in names)
    texts = {source.path: source.text for source in submission.sources}
    items = _items(Graded(task, answer, program, found, texts, held), judged)
    return Grade(student, name, "graded", tuple(items), notes=notes)


def _errors(diagnoses: tuple[Diagnosis, ...]) -> tuple[Diagnosis, ...]:
    """What keeps it from running. `use` of a file that was handed out, not in, is no mistake."""
    return tuple(d for d in diagnoses if d.grade == "error" and d.code not in ("use-missing",))


def _does_not_run(
    student: str, exercise: str, wrong: tuple[Diagnosis, ...], submission: Submission, notes: tuple[str, ...] = ()
) -> Grade:
    first = wrong[0]
    where = f"{Path(first.span.file).name}:{first.span.line}: {first.message}"
    more = "" if len(wrong) == 1 else f" (and {len(wrong) - 1} more)"
    return Grade(
        student,
        exercise,
        "does not run",
        reason=where + more,
        notes=notes or submission.notes,
        hint=does_not_run(wrong),
    )


def _own_mistake(found: tuple[Diagnosis, ...]) -> str:
    first = next((d for d in found if d.grade == "error"), None)
    return "the exercise cannot be run" if first is None else f"{first.span.file}:{first.span.line}: {first.message}"


#: Why an item that holds earns nothing.
NOTHING_WRITTEN = "no rung is written: what never moves breaks nothing, and earns nothing"


def _items(graded: Graded, judged: tuple[Judged, ...]) -> list[Item]:
    task = graded.task
    items: list[Item] = []
    # a machine that does nothing is safe, and no answer: nothing is earned by handing the sheet back
    blank = not graded.answer.rungs and not graded.answer.circuits
    for each in judged:
        worth = task.exercise.points.get(each.name, 1)
        # one at a time: whoever has mended the first mistake hands in again
        wanted = not each.holds and all(item.hint is None for item in items)
        hint = hint_for(graded, each) if wanted else None
        items.append(
            Item(
                each.name,
                each.name in task.hidden,
                each.sentence,
                each.restatement,
                each.word,
                worth if each.holds and not blank else 0,
                worth,
                NOTHING_WRITTEN if each.holds and blank else each.reason,
                each.story_text if each.fails else None,
                each.at_ms if each.fails else None,
                hint,
            )
        )
    return items
