"""`rungproof exercise EXERCISE`: the task in words, or a student's sheet with all that belongs to it."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.commands.errors import FINE, CommandError, reason_of
from rungproof.logic.commands.json_output import JsonOutput
from rungproof.logic.commands.output import write_file
from rungproof.logic.commands.screen import Screen
from rungproof.logic.teaching.exercise import ExerciseError, load_exercise
from rungproof.logic.teaching.handout import TASK, handout
from rungproof.logic.teaching.variant import variant_of


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        try:
            exercise = load_exercise(Path(arguments.exercise))
            if arguments.variants:
                if arguments.student is None:
                    raise CommandError(
                        "--variants wants a student.", "Add --student NAME: each name has its own variant."
                    )
                exercise = variant_of(exercise, arguments.student, arguments.seed)
            files = handout(exercise, arguments.student)
        except ExerciseError as error:
            raise CommandError(f"The exercise cannot be used: {error}.") from error
        if arguments.output is None:
            screen.line(files[TASK])
            screen.line("Files of the sheet: " + ", ".join(files) + ". `-o FOLDER` writes them.")
        else:
            _write(Path(arguments.output), files)
            screen.line(f"{arguments.output}: " + ", ".join(files))
        output.write(arguments, FINE, exercise=exercise.name, files=list(files))
    return FINE


def _write(folder: Path, files: dict[str, str]) -> None:
    """Nothing that is there is overwritten: it might be somebody's answer."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommandError(
            f"{folder} cannot be made: {reason_of(error)}.", "Name a folder that may be written."
        ) from error
    for name in files:
        if (folder / name).exists():
            raise CommandError(f"{folder / name} is there already.", "Name an empty folder; nothing is overwritten.")
    for name, text in files.items():
        write_file(folder / name, text)
