"""`rungproof grade EXERCISE SUBMISSION...`: what holds, where it fails, points, and the one hint that helps."""

from __future__ import annotations

from argparse import Namespace
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from rungproof.logic.commands.errors import FILES_WRONG, FINE, VIOLATED, CommandError, reason_of
from rungproof.logic.commands.json_output import JsonOutput
from rungproof.logic.commands.output import Pending, write_file
from rungproof.logic.commands.screen import Screen
from rungproof.logic.teaching.exercise import Exercise, ExerciseError, load_exercise
from rungproof.logic.teaching.grade import NO_LICENCE, Grade
from rungproof.logic.teaching.grade_tables import grade_pages, grades_csv
from rungproof.logic.teaching.submission import shown
from rungproof.logic.verbs.grading import grade


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        table = Pending.at(arguments.csv) if arguments.csv is not None else None
        pages = _folder(arguments.html) if arguments.html is not None else None
        try:
            exercise = load_exercise(Path(arguments.exercise))
            grades = grade(
                exercise,
                arguments.submissions,
                seed=arguments.seed,
                reveal=arguments.reveal,
                variants=arguments.variants,
            )
        except ExerciseError as error:
            raise CommandError(f"The exercise cannot be used: {error}.".replace("..", ".")) from error
        for each in grades:
            _print(screen, each, arguments.hints)
        if len(grades) > 1:
            _print_sum(screen, grades)
        screen.paragraph(NO_LICENCE)
        if table is not None:
            table.write(grades_csv(grades, arguments.hints))
        if pages is not None:
            _write_pages(exercise, grades, arguments.hints, pages)
        code = _exit_code(grades)
        output.write(arguments, code, exercise=exercise.name, grades=[each.to_json(arguments.hints) for each in grades])
    return code


def _exit_code(grades: Sequence[Grade]) -> int:
    if any(each.outcome != "graded" for each in grades):
        return FILES_WRONG
    return FINE if all(each.points == each.worth and each.first_hint is None for each in grades) else VIOLATED


def _folder(path: str) -> Path:
    folder = Path(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommandError(
            f"{path} cannot be made: {reason_of(error)}.", "Name a folder that may be written."
        ) from error
    return folder


def _write_pages(exercise: Exercise, grades: Sequence[Grade], hints: int, folder: Path) -> None:
    for name, text in grade_pages(exercise, grades, hints).items():
        write_file(folder / name, text)


def _print(screen: Screen, grade: Grade, hints: int) -> None:
    score = f"{grade.points} of {grade.worth} points" if grade.outcome == "graded" else grade.outcome
    screen.line(screen.strong(f"{shown(grade.student)}: {score}"))
    if grade.reason:
        screen.labelled("why", grade.reason)
    column = max([14, *(len(item.word) for item in grade.items)]) + 8
    for item in grade.items:
        sentence = f': "{item.sentence}"' if item.sentence else ""
        mark = " " if item.holds else "!"
        screen.labelled(f"{mark} {item.word}", f"{item.name}{sentence}", column=column)
    failed = next((item for item in grade.items if item.story is not None), None)
    if failed is not None and failed.story is not None:
        screen.line()
        screen.labelled(
            "story", f"in which {failed.name} fails; an input that it does not name stays off, where there is no plant:"
        )
        for row in failed.story.splitlines():
            screen.line(f"        {row}")
    first = grade.first_hint
    if first is not None and hints:
        screen.line()
        for label, said in zip(("question", "place", "rule"), first.up_to(hints), strict=False):
            screen.labelled(label, said)
    for note in grade.notes:
        screen.labelled("note", note)
    screen.line()


def _print_sum(screen: Screen, grades: Sequence[Grade]) -> None:
    outcomes = Counter(each.outcome for each in grades)
    said = ", ".join(f"{count} {outcome}" for outcome, count in outcomes.items())
    screen.labelled("submissions", f"{len(grades)}: {said}", indent=0)
    common = Counter(each.first_hint.title for each in grades if each.first_hint is not None)
    for title, count in common.most_common(5):
        screen.labelled("", f"{count} x {title}", indent=0)
