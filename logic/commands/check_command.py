"""`rungproof check PATH`: findings, verdicts, scenarios, counts."""

from __future__ import annotations

import re
from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.record import RecordError
from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.commands.as_found_command import as_found, as_found_json, print_as_found, refuse_others
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import Pending, folder_for, write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import (
    CAUTIONS,
    print_assumptions,
    print_envelope,
    print_internal_errors,
    print_scenarios,
    print_summary,
    print_verdicts,
)
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.verbs.checking import check, record_beside
from rungproof.logic.verbs.reading import understand
from rungproof.logic.waveforms.junit import junit_text


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        if arguments.as_found is not None:
            return _with_errors(arguments, output)
        folder = None if arguments.stories is None else folder_for(arguments.stories)
        certificates = None if arguments.certificates is None else folder_for(arguments.certificates)
        junit = None if arguments.junit is None else Pending.at(arguments.junit)
        understood = understand(arguments.path)
        with ProgressLine() as progress:
            result = _checked(arguments, understood, progress)
        _print(Screen.standard(quiet=output.takes_screen), understood, result)
        if folder is not None:
            _write_stories(folder, result)
        if certificates is not None:
            _write_certificates(certificates, result)
        if junit is not None:
            junit.write(junit_text(result, arguments.path))
        output.write(arguments, result.exit_code, **_json(understood, result))
    return result.exit_code


def _with_errors(arguments: Namespace, output: JsonOutput) -> int:
    """The check with the errors of a filled-in sheet."""
    refuse_others(arguments)
    understood = understand(arguments.path)
    screen = Screen.standard(quiet=output.takes_screen)
    if understood.program is None:
        result = check(understood, seed=arguments.seed)
        _print(screen, understood, result)
        output.write(arguments, result.exit_code, **_json(understood, result))
        return result.exit_code
    with ProgressLine() as progress:
        found = as_found(arguments, understood, understood.program, progress)
    print_as_found(screen, found)
    _print(screen, understood, found.worst)
    if found.exit_code != found.worst.exit_code:
        screen.labelled("exit code", f"{found.exit_code}: readings lie outside their limits", indent=0)
    output.write(arguments, found.exit_code, **_json(understood, found.worst), as_found=as_found_json(found))
    return found.exit_code


def _checked(arguments: Namespace, understood: Understanding, progress: ProgressLine) -> CheckResult:
    if arguments.record is not None and arguments.hours is None:
        raise CommandError("--record is of a long campaign.", "Say how long with --hours, too.")
    try:
        return check(
            understood,
            seed=arguments.seed,
            time_s=arguments.time,
            progress=progress,
            prove_s=arguments.proof,
            hours=arguments.hours,
            record=arguments.record or record_beside(arguments.path),
        )
    except RecordError as error:
        raise CommandError(str(error), error.mend) from error


def _print(screen: Screen, understood: Understanding, result: CheckResult) -> None:
    if result.diagnoses:
        screen.line(findings_text(result.diagnoses, understood.sources, screen.width))
        screen.line()
    if understood.program is not None:
        print_verdicts(screen, result, understood.program)
        print_scenarios(screen, result.scenarios)
        print_assumptions(screen, result.assumptions)
        print_envelope(screen, result.envelope)
        _print_exclusions(screen, understood.program)
        print_internal_errors(screen, result.disagreements)
    print_summary(screen, result, runnable=understood.program is not None)


def _print_exclusions(screen: Screen, program: Program) -> None:
    """What the file leaves out of account, by reason."""
    for reason in dict.fromkeys(each.reason for each in program.exclusions):
        names = ", ".join(each.key.replace("!", " ") for each in program.exclusions if each.reason == reason)
        screen.paragraph(f'left out of account: "{reason}"')
        screen.labelled("faults", names)
        screen.line()


def _json(understood: Understanding, result: CheckResult) -> dict[str, object]:
    against = {r.name: list(r.against) for r in understood.program.requirements} if understood.program else {}
    told = result.to_json()
    for requirement in told["requirements"]:
        requirement["against"] = against[requirement["id"]]
    return {
        "cautions": CAUTIONS,
        "sources": sources_json(understood.sources),
        "findings": findings_json(result.diagnoses),
        **{key: told[key] for key in _TOLD},
    }


_TOLD = ("requirements", "scenarios", "assumptions", "envelope", "searched", "internal_errors")


def _write_certificates(folder: Path, result: CheckResult) -> None:
    """One file per proved requirement, named after it, for `recheck`."""
    for verdict in result.verdicts:
        if verdict.word == "proved" and verdict.certificate is not None:
            write_file(folder / f"{_file_name(verdict.requirement)}.json", verdict.certificate.to_text())


def _file_name(requirement: str) -> str:
    return re.sub(r"[^A-Za-z0-9_]", "_", requirement)


def _write_stories(folder: Path, result: CheckResult) -> None:
    """One file per violated requirement, named after it."""
    for verdict in result.verdicts:
        if verdict.story_text is not None:
            write_file(folder / f"{_file_name(verdict.requirement)}.rung", verdict.story_text.rstrip("\n") + "\n")
