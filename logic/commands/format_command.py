"""`rungproof format PATH`: files laid out in the one way."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.api_results import FormatResult
from rungproof.logic.commands.errors import FILES_WRONG, FINE, VIOLATED
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.screen import Screen
from rungproof.logic.verbs.formatting import format as format_files


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        result = format_files(arguments.path, check=arguments.check)
        if result.diagnoses:
            screen.line(findings_text(result.diagnoses, result.sources, screen.width))
            screen.line()
        for file in result.files:
            screen.line(f"{file.path}: {'would be ' * (arguments.check and file.changed)}{file.words}")
        code = _exit_code(result, arguments.check)
        files = [{"file": file.path, "changed": file.changed, "refused": file.text is None} for file in result.files]
        output.write(
            arguments,
            code,
            sources=sources_json(result.sources),
            findings=findings_json(result.diagnoses),
            files=files,
        )
    return code


def _exit_code(result: FormatResult, check: bool) -> int:
    if result.refused:
        return FILES_WRONG
    return VIOLATED if check and result.changed else FINE
