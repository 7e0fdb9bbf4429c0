"""`rungproof draw PATH [RUNG...]`: rungs as text, or with `-o` as SVG."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.checks.words import many
from rungproof.logic.commands.errors import FILES_WRONG, FINE, CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import write_file, write_folder
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.drawing_text import CAUTION
from rungproof.logic.evidence.drawn.index_page import INDEX
from rungproof.logic.verbs.drawing import drawing_of, svg_files_of
from rungproof.logic.verbs.reading import read_to_draw

#: CSS pixels between the rails of an SVG drawing, for each column of a text drawing.
PIXELS = 7


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        files: dict[str, str] = {}
        try:
            project = read_to_draw(arguments.path)
            drawing = drawing_of(project, arguments.rungs, width=arguments.width, references=arguments.references)
            if arguments.output is not None and _means_svg(arguments.output):
                files = svg_files_of(project, arguments.rungs, width=arguments.width * PIXELS)
        except KeyError as error:
            words = str(error.args[0])
            raise CommandError(f"{words[:1].upper()}{words[1:]}.") from error
        except FilesWrongError as error:
            screen.line(findings_text(error.diagnoses, error.sources, screen.width))
            screen.line()
            screen.line("Nothing is drawn: a drawing must not lack a line that could not be read.")
            found = findings_json(error.diagnoses)
            output.write(
                arguments, FILES_WRONG, sources=sources_json(error.sources), findings=found, drawing=None, files=[]
            )
            return FILES_WRONG
        if drawing:
            drawing = f"{drawing}\n{CAUTION}\n"
        written: list[str] = []
        if files:
            written = _write_svg(screen, arguments.output, files)
        elif arguments.output is not None:
            write_file(arguments.output, drawing)
            written = [arguments.output]
            screen.line(f"{arguments.output}: written")
        else:
            screen.line(drawing.rstrip("\n") or "There is no rung to draw.")
        output.write(
            arguments, FINE, sources=sources_json(project.sources), findings=[], drawing=drawing, files=written
        )
    return FINE


def _means_svg(output: str) -> bool:
    """A folder, or a file that says so; any other file gets the text drawing."""
    where = Path(output)
    return where.is_dir() or output.endswith(("/", "\\")) or where.suffix.lower() in ("", ".svg")


def _write_svg(screen: Screen, output: str, files: dict[str, str]) -> list[str]:
    """Write the files; their paths."""
    drawings = [name for name in files if name != INDEX]
    if Path(output).suffix.lower() != ".svg" or Path(output).is_dir():
        write_folder(output, files)
        screen.line(f"{output}: {many(len(drawings), 'drawing')} written, and {INDEX} with all of them")
        return [str(Path(output) / name) for name in files]
    if len(drawings) != 1:
        mend = f"Name the rung before -o, or a folder: rungproof draw PATH -o {Path(output).stem}"
        raise CommandError(f"{output} is one file, and there are {many(len(drawings), 'rung')} to draw.", mend)
    write_file(output, files[drawings[0]])
    screen.line(f"{output}: written")
    return [output]
