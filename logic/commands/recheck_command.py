"""`rungproof recheck CERTIFICATE PATH`: does a proof still stand, by another solver through other code?"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.proving import IN_ITS_ENVELOPE, PLANT_LEFT_FREE, loop_words
from rungproof.logic.commands.errors import FILES_WRONG, FINE, OPEN, VIOLATED, CommandError, reason_of
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import print_where
from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.certificate import Certificate, CertificateError, changed_since, read_certificate
from rungproof.logic.proofs.certificate_basis import basis_of
from rungproof.logic.proofs.recheck import Failed, Verified, recheck
from rungproof.logic.proofs.sentences import Sayer
from rungproof.logic.proofs.system import UnprovableError
from rungproof.logic.proofs.ways import system_of
from rungproof.logic.verbs.reading import understand

#: Seconds for the solver where --time says nothing.
USUAL_S = 60.0
#: A certificate is small: what is larger than this (bytes) is none.
LARGEST = 50_000_000

_CODES = {"verified": FINE, "stale": VIOLATED, "refused": VIOLATED, "unknown": OPEN}


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        certificate = read_file(arguments.certificate)
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        word, why, code = "", tuple[str, ...](), FILES_WRONG
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
        else:
            word, why = answer(certificate, understood.program, arguments.time or USUAL_S)
            code = _CODES[word]
            _print(screen, certificate, understood.program, word, why)
        output.write(
            arguments,
            code,
            sources=sources_json(understood.sources),
            findings=findings_json(understood.diagnoses if understood.program is None else ()),
            requirement=certificate.requirement,
            answer=word or None,
            why=list(why),
        )
    return code


def answer(certificate: Certificate, program: Program, time_s: float) -> tuple[str, tuple[str, ...]]:
    """`verified`, `stale` (what was proved is not what is there), `refused` (the invariant is none) or
    `unknown`; and why, in words."""
    try:
        changed = changed_since(certificate, program)
        if changed is not None:
            return "stale", changed
        requirement = next(each for each in program.requirements if each.name == certificate.requirement)
        found = recheck(system_of(program, requirement, certificate.way), certificate.invariant, time_s)
    except UnprovableError as error:
        return "stale", (f"requirement {certificate.requirement} can no longer be proved: {error}",)
    if isinstance(found, Verified):
        return "verified", ()
    return ("refused" if isinstance(found, Failed) else "unknown"), (str(found),)


def read_file(name: str) -> Certificate:
    """The certificate in a file. Raises `CommandError`."""
    try:
        path = Path(name)
        if path.is_file() and path.stat().st_size > LARGEST:
            raise CertificateError(f"it has more than {LARGEST} bytes")
        return read_certificate(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise CommandError(f"{name} cannot be read: {reason_of(error)}.") from error
    except (CertificateError, UnicodeDecodeError) as error:
        words = "it is no text" if isinstance(error, UnicodeDecodeError) else str(error)
        raise CommandError(f"{name} is no certificate that can be checked: {words}.") from error


def _print(screen: Screen, certificate: Certificate, program: Program, word: str, why: tuple[str, ...]) -> None:
    screen.line(screen.strong(f"{certificate.requirement}  {word}"))
    screen.paragraph(f'"{certificate.sentence}"', indent=4)
    screen.labelled("restated", certificate.restatement)
    requirement = next((each for each in program.requirements if each.name == certificate.requirement), None)
    screen.labelled("result", "; ".join(why) or _verified(certificate, requirement))
    for number, (says, who) in enumerate(certificate.assuming, 1):
        screen.labelled("assuming", f"{number}. {says}")
        screen.labelled("guarantee", who)
    if word == "verified" and requirement is not None:
        sayer = Sayer(program)
        for clause in certificate.invariant.clauses:
            screen.labelled("because", sayer.clause(clause))
        rungs = [each.name for each in basis_of(program, requirement, way=certificate.way) if each.kind == "rung"]
        screen.labelled("rests on", f"rungs {', '.join(rungs)}" if rungs else "no rung")
    screen.line()
    print_where(screen)


def _verified(certificate: Certificate, requirement: Requirement | None) -> str:
    if certificate.way == "loop" and requirement is not None:
        return f"proved, and the proof was checked again: it {loop_words(requirement)}"
    if certificate.assuming:
        return f"proved, and the proof was checked again: it {IN_ITS_ENVELOPE.format('what is assumed below')}"
    return _VERIFIED_PLANT if any(each.kind == "plant" for each in certificate.rests_on) else _VERIFIED


_VERIFIED = (
    "proved, and the proof was checked again: for every input, every parameter in its range, "
    "every scan time and every power cut between scans"
)

_VERIFIED_PLANT = f"proved, and the proof was checked again: it {PLANT_LEFT_FREE}"
