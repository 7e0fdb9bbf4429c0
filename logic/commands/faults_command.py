"""`rungproof faults PATH`: what if it breaks, fault by fault."""

from __future__ import annotations

import re
from argparse import Namespace
from pathlib import Path

from rungproof.logic.commands.errors import FILES_WRONG
from rungproof.logic.commands.faults_text import print_faults
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import folder_for, write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.verbs.faulting import faults
from rungproof.logic.verbs.reading import understand


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        folder = None if arguments.stories is None else folder_for(arguments.stories)
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        common = {
            "cautions": CAUTIONS,
            "sources": sources_json(understood.sources),
            "findings": findings_json(understood.diagnoses),
        }
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
            output.write(arguments, FILES_WRONG, **common)
            return FILES_WRONG
        with ProgressLine() as progress:
            table = faults(
                understood, seed=arguments.seed, pairs=arguments.pairs, replay=arguments.replay, progress=progress
            )
        print_faults(screen, table)
        if folder is not None:
            _write_stories(folder, table)
        output.write(arguments, table.exit_code, **common, **table.to_json())
    return table.exit_code


def _write_stories(folder: Path, table: FaultTable) -> None:
    """One file for each row that has a story, named after its fault or its two faults."""
    for row in (*table.rows, *(table.pairs or ())):
        if row.story:
            name = row.name if row.first is None else f"{' '.join(row.first)} then {row.name}"
            write_file(folder / f"{re.sub(r'[^A-Za-z0-9_]+', '_', name)}.rung", row.story.rstrip("\n") + "\n")
