"""`rungproof check PATH --as-found FILE`: what measured errors do to the requirements."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.commands.errors import CommandError, reason_of
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.sheets.as_found import MOST_BYTES, AsFound, AsFoundError, read_as_found
from rungproof.logic.sheets.as_found_check import AsFoundResult, check_as_found
from rungproof.logic.verbs.checking import PROVE_S

#: What belongs to the files as they are, and not to a machine that is off.
_ALONE = ("hours", "record", "stories", "certificates", "junit")


def refuse_others(arguments: Namespace) -> None:
    """Raises `CommandError` for options that do not go with `--as-found`."""
    for name in _ALONE:
        if getattr(arguments, name, None) is not None:
            raise CommandError(f"--as-found and --{name} do not go together.", "Run the check twice.")


def as_found(
    arguments: Namespace, understood: Understanding, program: Program, progress: ProgressLine
) -> AsFoundResult:
    """Read the sheet and check with its errors. Raises `CommandError` for a sheet that cannot be used."""
    try:
        return check_as_found(
            program,
            _read(arguments.as_found, program),
            seed=arguments.seed,
            time_s=arguments.time,
            prove_s=PROVE_S if arguments.proof is None else arguments.proof,
            progress=progress,
            diagnoses=understood.diagnoses,
        )
    except AsFoundError as error:
        raise CommandError(f"{arguments.as_found} cannot be used: {error}.", error.mend) from error


def _read(name: str, program: Program) -> AsFound:
    try:
        content = Path(name).read_bytes()
    except OSError as error:
        raise CommandError(f"{name} cannot be read: {reason_of(error)}.") from error
    if len(content) > MOST_BYTES:
        raise AsFoundError(f"it has more than {MOST_BYTES:,} bytes, which no sheet has")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise AsFoundError("it is no UTF-8 text", "Save it as CSV in UTF-8.") from error
    if "\0" in text:
        raise AsFoundError("it is no text", "Save it as CSV in UTF-8.")
    return read_as_found(text, program)


def print_as_found(screen: Screen, result: AsFoundResult) -> None:
    """The readings, what lies outside, and the errors that the check was run with."""
    found = result.found
    screen.labelled("as found", f"{found.readings} readings, {len(found.outside)} outside their limits", indent=0)
    for each in found.outside:
        screen.labelled("outside", f"{each.check}: {each.found}, expected {each.expected}", indent=0)
    for band in found.bands:
        span = f"{band.low:+.4g}..{band.high:+.4g} {band.unit} at {band.points} points"
        screen.labelled("error", f"{band.tag} at {band.terminal}: {span}", indent=0)
    screen.labelled("checked with", "; ".join(case.words for case in result.cases), indent=0)
    screen.line()


def as_found_json(result: AsFoundResult) -> dict[str, object]:
    found = result.found
    return {
        "readings": found.readings,
        "errors": [
            {"tag": b.tag, "terminal": b.terminal, "unit": b.unit, "low": b.low, "high": b.high, "points": b.points}
            for b in found.bands
        ],
        "outside": [{"check": e.check, "found": e.found, "expected": e.expected} for e in found.outside],
        "checked_with": [case.words for case in result.cases],
    }
