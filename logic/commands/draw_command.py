"""`rungproof draw PATH [RUNG...]`: rungs as text."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.api import drawing_of, read_to_draw
from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.commands.errors import FILES_WRONG, FINE, CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import write_file
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.drawing_text import CAUTION


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        try:
            project = read_to_draw(arguments.path)
            drawing = drawing_of(project, arguments.rungs, width=arguments.width)
        except KeyError as error:
            words = str(error.args[0])
            raise CommandError(f"{words[:1].upper()}{words[1:]}.") from error
        except FilesWrongError as error:
            screen.line(findings_text(error.diagnoses, error.sources, screen.width))
            screen.line()
            screen.line("Nothing is drawn: a drawing must not lack a line that could not be read.")
            found = findings_json(error.diagnoses)
            output.write(arguments, FILES_WRONG, sources=sources_json(error.sources), findings=found, drawing=None)
            return FILES_WRONG
        if drawing:
            drawing = f"{drawing}\n{CAUTION}\n"
        if arguments.output is not None:
            write_file(arguments.output, drawing)
            screen.line(f"{arguments.output}: written")
        else:
            screen.line(drawing.rstrip("\n") or "There is no rung to draw.")
        output.write(arguments, FINE, sources=sources_json(project.sources), findings=[], drawing=drawing)
    return FINE
