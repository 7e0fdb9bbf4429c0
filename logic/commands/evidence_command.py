"""`rungproof evidence PATH -o DIR`: a report that people can read and sign; `--stale`: is it still of its files?"""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from rungproof.logic.commands.errors import FILES_WRONG, FINE, VIOLATED, CommandError, reason_of
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import folder_for, write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.report.evidence import files_of
from rungproof.logic.report.record import RECORD, REPORT, RecordError, marked, record_text, stale_of
from rungproof.logic.report.report_page import report_page
from rungproof.logic.verbs.papers import evidence_of
from rungproof.logic.verbs.reading import read_to_draw, understand


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        common = {"sources": sources_json(understood.sources), "findings": findings_json(understood.diagnoses)}
        if arguments.stale:
            reasons = _stale(screen, Path(arguments.output), understood)
            code = VIOLATED if reasons else FINE
            output.write(arguments, code, **common, files=[], stale=list(reasons))
            return code
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
            screen.line()
            screen.line("No report is written: files that cannot be run have no evidence.")
            output.write(arguments, FILES_WRONG, **common, files=[], stale=[])
            return FILES_WRONG
        code = _report(arguments, screen, understood)
        output.write(arguments, code, **common, files=[REPORT, RECORD], stale=[])
    return code


def _report(arguments: Namespace, screen: Screen, understood: Understanding) -> int:
    folder = folder_for(arguments.output)
    with ProgressLine() as progress:
        evidence = evidence_of(
            understood,
            read_to_draw(arguments.path),
            seed=arguments.seed,
            without=arguments.without,
            whole=arguments.whole,
            progress=progress,
        )
    report = report_page(evidence, f"Made on {datetime.now(UTC):%Y-%m-%d at %H:%M} UTC.")
    write_file(folder / REPORT, report)
    write_file(folder / RECORD, record_text(evidence, report))
    screen.line(f"{folder / REPORT}: written; print it from any browser")
    screen.line(f"{folder / RECORD}: written; `rungproof evidence {arguments.path} -o {folder} --stale` compares it")
    for verdict in evidence.result.verdicts:
        screen.line(f"    {verdict.requirement}  {verdict.word}")
    wrong = [each.question for each in evidence.answers if not each.agrees]
    if wrong:
        raise CommandError(f"The self-test of this installation failed: {'; '.join(wrong)}.")
    return evidence.result.exit_code


def _stale(screen: Screen, folder: Path, understood: Understanding) -> tuple[str, ...]:
    report, record = _read(folder / REPORT), _read(folder / RECORD)
    try:
        found = stale_of(record, report, {name: digest for name, digest, _ in files_of(understood)})
    except RecordError as error:
        raise CommandError(f"{folder / RECORD} cannot be used: {error}.", "Make the report anew.") from error
    if found.stale:
        screen.line(f"stale: {folder / REPORT} is not of the files as they are now")
        for reason in found.reasons:
            screen.line(f"    {reason}")
    else:
        screen.line(f"current: {folder / REPORT} is of the files as they are")
    again = marked(report, found)
    if again != report:
        write_file(folder / REPORT, again)
    return found.reasons


def _read(path: Path) -> str:
    mend = "Make a report first: `rungproof evidence PATH -o DIR`."
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {reason_of(error)}.", mend) from error
    except UnicodeDecodeError as error:
        raise CommandError(f"{path} is no UTF-8 text.", mend) from error
