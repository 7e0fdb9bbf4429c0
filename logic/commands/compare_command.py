"""`rungproof compare OLD NEW`: do two versions of a controller do the same, and what does the change touch?"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.words import many, time_words
from rungproof.logic.commands.errors import FILES_WRONG, CommandError, reason_of
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.recheck_command import read_file
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import print_where
from rungproof.logic.compare_results import CompareResult, compare_understood
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.proofs.certificate import Certificate
from rungproof.logic.proofs.compare import Comparison, Parting
from rungproof.logic.verbs.reading import understand


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        certificates = _certificates(arguments.certificates)
        old, new = understand(arguments.path), understand(arguments.new)
        result = None
        for each in (old, new):
            if each.program is None:
                screen.line(findings_text(each.diagnoses, each.sources, screen.width))
        if old.program is not None and new.program is not None:
            with ProgressLine("comparing the two versions"):
                result = compare_understood(
                    old.program,
                    new.program,
                    time_s=arguments.time,
                    seed=arguments.seed,
                    certificates=certificates,
                )
            _print(screen, result)
            _write_story(arguments.story, result)
        code = FILES_WRONG if result is None else result.exit_code
        output.write(
            arguments,
            code,
            sources=sources_json((*old.sources, *new.sources)),
            findings=findings_json(d for each in (old, new) if each.program is None for d in each.diagnoses),
            comparison=None if result is None else result.to_json(),
        )
    return code


def _certificates(folder: str | None) -> dict[str, Certificate]:
    """The certificates in a folder, by file name. Raises `CommandError`."""
    if folder is None:
        return {}
    try:
        names = sorted(path for path in Path(folder).iterdir() if path.suffix == ".json")
    except OSError as error:
        raise CommandError(f"{folder} cannot be read: {reason_of(error)}.") from error
    if not names:
        raise CommandError(f"{folder} holds no certificate.", "`rungproof check PATH --certificates DIR` writes them.")
    return {path.name: read_file(str(path)) for path in names}


def _write_story(to: str | None, result: CompareResult) -> None:
    if to is not None and result.stories is not None:
        write_file(to, result.stories[1])


def _print(screen: Screen, result: CompareResult) -> None:
    found = result.comparison
    screen.line(screen.strong(found.word))
    if found.word == "equal":
        screen.labelled("result", f"{_equal(found)} ({found.engine})")
    elif found.parting is not None:
        _print_parting(screen, result, found.parting)
    else:
        deep = f"; no run of {many(found.depth, 'scan')} tells them apart" if found.depth else ""
        screen.labelled("result", f"neither proved equal nor told apart: {found.why}{deep}")
    if found.outputs:
        screen.labelled("compared", ", ".join(found.outputs))
    for which, what in found.only:
        screen.labelled(f"only {which}", what)
    for remark in found.remarks:
        screen.labelled("mark", remark)
    _print_touched(screen, result)
    screen.line()
    print_where(screen)


def _print_parting(screen: Screen, result: CompareResult, parting: Parting) -> None:
    short = "no shorter story tells them apart" if parting.shortest else "there may be a shorter one"
    where = f"at {time_words(parting.at)}, after {many(parting.scans, 'scan')}"
    values = f"`{parting.tag}` is {_value(parting.old)} in old and {_value(parting.new)} in new"
    screen.labelled("result", f"{where}, {values}; {short}; replayed in both")
    old, new = result.stories or ("", "")
    for label, text in (("story", new),) if old == new else (("story, old", old), ("story, new", new)):
        screen.line(f"    {label}")
        for row in text.rstrip().split("\n"):
            screen.line(f"        {row}")


def _value(value: Scalar) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else f"{value:g}"


def _print_touched(screen: Screen, result: CompareResult) -> None:
    for each in result.touched:
        if each.how != "untouched":
            why = f": {'; '.join(each.because)}" if each.because else ""
            screen.labelled(each.requirement, f"{each.how}{why}")
    still = [each.requirement for each in result.touched if each.how == "untouched"]
    if still:
        screen.labelled("untouched", ", ".join(still))
    for name, words in result.certificates.items():
        screen.labelled("proof", f"{name}: {words}")


def _equal(found: Comparison) -> str:
    """What was proved, and of what only the part that both have."""
    inputs = " within the ranges of both" if "input" in found.narrowed else ""
    parameters = " value that both allow" if "parameter" in found.narrowed else ""
    scans = " that both can do" if "scan" in found.narrowed else ""
    return (
        f"proved to do the same at every output that both have, for every course of the inputs{inputs}, every "
        f"parameter{parameters}, every scan time{scans} and every power cut between scans"
    )
