"""`rungproof new PATH`: a starter project that checks clean, to be changed into one's own."""

from __future__ import annotations

import shutil
import tempfile
from argparse import Namespace
from importlib import resources
from pathlib import Path

from rungproof.logic.commands.errors import FINE, CommandError, reason_of
from rungproof.logic.commands.json_output import JsonOutput
from rungproof.logic.commands.screen import Screen

#: File of the project, and the resource it is copied from.
STARTER = {
    "controller.rung": "starter_controller.rung",
    "requirements.rung": "starter_requirements.rung",
}


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        folder = Path(arguments.path)
        make_project(folder)
        screen.line(f"{folder}: made, with {' and '.join(STARTER)}.")
        screen.line()
        screen.line(f"    rungproof check {folder}        attack its requirements")
        screen.line(f"    rungproof draw {folder}         see its rungs")
        screen.line()
        screen.line("It checks clean. Change a line, and see what the check says then.")
        output.write(arguments, FINE, files=[str(folder / name) for name in STARTER])
    return FINE


def make_project(folder: Path) -> None:
    """Make the folder with its files, all or none. An empty folder may be there already.

    Raises `CommandError` where something is in the way or the folder cannot be made.
    """
    try:
        if folder.is_dir() and not any(folder.iterdir()):
            _fill(folder)
            return
        if folder.exists() or folder.is_symlink():
            raise CommandError(
                f"{folder} is there already, and nothing is overwritten.", "Name a folder that is not there yet."
            )
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        try:
            _fill(beside)
            beside.chmod(0o755)
            beside.rename(folder)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else str(error)
        raise CommandError(
            f"{folder} cannot be made: {reason}.", "Name a new folder inside one that exists."
        ) from error


def _fill(folder: Path) -> None:
    for name, resource in STARTER.items():
        text = resources.files("rungproof.logic.commands").joinpath(resource).read_text(encoding="utf-8")
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
