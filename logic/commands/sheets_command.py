"""`rungproof sheets PATH -o DIR`: what a person with a meter checks."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.commands.errors import FILES_WRONG, FINE, CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import folder_for, write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.sheets.bench_sheets import bench_sheets
from rungproof.logic.sheets.sheets_csv import csv_files
from rungproof.logic.sheets.sheets_page import sheets_page
from rungproof.logic.verbs.reading import understand


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        folder = folder_for(arguments.output)
        understood = understand(arguments.path)
        common = {"sources": sources_json(understood.sources), "findings": findings_json(understood.diagnoses)}
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
            screen.line()
            screen.line("No sheets are written: a sheet that does not go with its files is worse than none.")
            output.write(arguments, FILES_WRONG, **common, files=[])
            return FILES_WRONG
        if understood.program.plant is None:
            mend = "Sheets want a `plant` with its `wiring`: which terminal leads where."
            raise CommandError("These files say nothing of a plant: there is no terminal to put a meter on.", mend)
        with ProgressLine("running every cause alone"):
            sheets = bench_sheets(understood.program, tolerance=arguments.tolerance)
        files = {"sheets.html": sheets_page(sheets), **csv_files(sheets)}
        _write(screen, folder, files)
        output.write(arguments, FINE, **common, files=sorted(files))
    return FINE


def _write(screen: Screen, folder: Path, files: dict[str, str]) -> None:
    for name, content in files.items():
        write_file(folder / name, content)
        screen.line(f"{folder / name}: written")
    screen.line()
    screen.paragraph(
        "Print sheets.html from any browser. Fill in the as-found columns of readings.csv, and "
        "`rungproof check PATH --as-found readings.csv` says what the measured errors do to the requirements."
    )
