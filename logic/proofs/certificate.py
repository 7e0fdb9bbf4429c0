"""Certificates: a proof in a small file, for another program to check again on another day.

A certificate says what was proved (the requirement, and the digest of the system that the
proof is about), why (the invariant, in clauses over the author's own tags) and what that
rests on. `certificate.schema.json` beside this file documents every key.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.certificate_basis import KINDS, Basis, Kind, basis_of, changes, digest
from rungproof.logic.proofs.literals import Clause, Invariant, Literal
from rungproof.logic.proofs.sentences import Sayer
from rungproof.logic.proofs.system import System, UnprovableError
from rungproof.logic.proofs.ways import FIRST_WAY, WAYS, Way, facts_behind, system_of
from rungproof.logic.steps.step import Step
from rungproof.logic.steps.text import print_step

#: Grows by one whenever a key changes its meaning or goes.
FORMAT = 1


class CertificateError(ValueError):
    """Raised where a file is no certificate; says in plain words what is wrong with it."""


@dataclass(frozen=True)
class Certificate:
    """`system` is the digest of what was proved; `versions` of what found the proof.

    `way` is how it was put to the prover, `assuming` what that takes for granted, each with who guarantees it.
    `plain` are those of the `sentences` that speak of the author's names alone; a file does not keep them apart.
    """

    requirement: str
    sentence: str
    restatement: str
    engine: str
    system: str
    invariant: Invariant
    rests_on: tuple[Basis, ...]
    versions: Mapping[str, str] = field(default_factory=dict)
    sentences: tuple[str, ...] = ()
    way: Way = FIRST_WAY
    assuming: tuple[tuple[str, str], ...] = ()
    plain: tuple[str, ...] = field(default=(), compare=False)

    def to_text(self) -> str:
        """The file."""
        told = {
            "certificate": FORMAT,
            "note": "In the model; nothing was measured on a machine.",
            "requirement": self.requirement,
            "sentence": self.sentence,
            "restatement": self.restatement,
            "verdict": "proved",
            "engine": self.engine,
            "versions": dict(self.versions),
            "way": self.way,
            "assuming": [
                {"number": number, "says": says, "guaranteed by": who}
                for number, (says, who) in enumerate(self.assuming, 1)
            ],
            "system": self.system,
            "rests_on": [{"kind": each.kind, "name": each.name, "digest": each.digest} for each in self.rests_on],
            "invariant": [[_literal_json(each) for each in clause] for clause in self.invariant.clauses],
            "because": list(self.sentences),
        }
        return json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def system_digest(system: System) -> str:
    """The digest of what a proof of `system` is about: its cone of influence, as text."""
    cone = system.step.slice([system.bad])
    # By name, and without labels: neither the order of tags in a file nor that of a set is any part of it.
    ordered = Step(
        dict(sorted(cone.states.items())),
        dict(sorted(cone.inputs.items())),
        dict(sorted(cone.next.items())),
        cone.outputs,
    )
    free = sorted(system.free_starts & cone.states.keys())
    return digest(print_step(ordered), system.bad, system.tick, free)


def certify(
    program: Program,
    requirement: Requirement,
    invariant: Invariant,
    engine: str,
    versions: Mapping[str, str],
    *,
    way: Way = FIRST_WAY,
) -> Certificate:
    """The certificate of a proof. Raises `UnprovableError` for a requirement that has no system in that way."""
    system = system_of(program, requirement, way)
    sayer = Sayer(program)
    return Certificate(
        requirement.name,
        requirement.sentence,
        requirement.restatement,
        engine,
        system_digest(system),
        invariant,
        basis_of(program, requirement, way=way),
        versions,
        tuple(sayer.clause(clause) for clause in invariant.clauses),
        way,
        tuple((fact.sentence, fact.because) for fact in facts_behind(program, requirement, way)),
        tuple(dict.fromkeys(sayer.clause(clause) for clause in invariant.clauses if sayer.plain(clause))),
    )


def changed_since(certificate: Certificate, program: Program) -> tuple[str, ...] | None:
    """In words what is not as it was when the proof was found; None if what was proved is the same.

    The digest of the system decides; the digests of its parts say where to look.
    """
    requirement = next((each for each in program.requirements if each.name == certificate.requirement), None)
    if requirement is None:
        return (f"requirement {certificate.requirement} is gone",)
    if (requirement.sentence, requirement.restatement) != (certificate.sentence, certificate.restatement):
        return (f"requirement {requirement.name} says something else",)
    if system_digest(system_of(program, requirement, certificate.way)) == certificate.system:
        return None
    told = changes(certificate.rests_on, basis_of(program, requirement, way=certificate.way))
    return tuple(told) or ("no rung and no tag changed, but what this version of rungproof makes of them did",)


def stands(certificate: Certificate, program: Program) -> str:
    """Whether what was proved is still what is there, in words."""
    try:
        changed = changed_since(certificate, program)
    except UnprovableError as error:
        return f"stale: {certificate.requirement} can no longer be proved: {error}"
    if changed is None:
        return f"{certificate.requirement} rests on nothing that changed"
    return f"stale: {'; '.join(changed)}"


# ------------------------------------------------------------------------- json


def _literal_json(each: Literal) -> dict[str, object]:
    if each.bound is None:
        return {"state": each.name, "is": "on" if each.holds else "off"}
    less = {"minus": each.minus} if each.minus else {}
    return {"state": each.name, **less, "at most" if each.holds else "more than": each.bound}


def read_certificate(text: str) -> Certificate:
    """The certificate in a file's text. Raises `CertificateError`."""
    try:
        told = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise CertificateError(f"it is no JSON: {error}") from error
    if not isinstance(told, dict) or "certificate" not in told:
        raise CertificateError("it is no certificate: the key `certificate` is missing")
    if told["certificate"] != FORMAT:
        raise CertificateError(f"it has format {told['certificate']!r}, and this version reads format {FORMAT}")
    if told.get("verdict") != "proved":
        raise CertificateError("it does not say `proved`")
    return Certificate(
        _text(told, "requirement"),
        _text(told, "sentence"),
        _text(told, "restatement"),
        _text(told, "engine"),
        _text(told, "system"),
        Invariant(tuple(_clause(each) for each in _list(told, "invariant"))),
        tuple(_basis(each) for each in _list(told, "rests_on")),
        _versions(told.get("versions")),
        tuple(str(each) for each in _list(told, "because")),
        _way(told.get("way", FIRST_WAY)),
        tuple(_assumed(each) for each in _list({"assuming": [], **told}, "assuming")),
    )


def _way(told: object) -> Way:
    for way in WAYS:
        if told == way:
            return way
    raise CertificateError(f"`way` should be one of {', '.join(WAYS)}")


def _assumed(told: object) -> tuple[str, str]:
    if not isinstance(told, dict):
        raise CertificateError("`assuming` should be a list of assumptions")
    return _text(told, "says"), _text(told, "guaranteed by")


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def _text(told: Mapping[str, Any], key: str) -> str:
    value = told.get(key)
    if not isinstance(value, str):
        raise CertificateError(f"`{key}` should be a text")
    return value


def _list(told: Mapping[str, Any], key: str) -> list[Any]:
    value = told.get(key)
    if not isinstance(value, list):
        raise CertificateError(f"`{key}` should be a list")
    return value


def _versions(told: object) -> dict[str, str]:
    if not isinstance(told, dict) or not all(isinstance(each, str) for each in told.values()):
        raise CertificateError("`versions` should name versions as texts")
    return told


def _basis(told: object) -> Basis:
    if not isinstance(told, dict) or told.get("kind") not in KINDS:
        raise CertificateError(f"`rests_on` should list things with a `kind` of {', '.join(KINDS)}")
    return Basis(cast(Kind, told["kind"]), _text(told, "name"), _text(told, "digest"))


def _clause(told: object) -> Clause:
    if not isinstance(told, list) or not told:
        raise CertificateError("`invariant` should be a list of clauses, each a list of at least one fact")
    return tuple(_literal(each) for each in told)


def _literal(told: object) -> Literal:
    if isinstance(told, dict) and isinstance(told.get("state"), str) and len(told) == 2 + ("minus" in told):
        name, minus = told["state"], told.get("minus", "")
        if not isinstance(minus, str) or ("minus" in told and ("is" in told or not minus)):
            raise CertificateError("`minus` should name a second whole number")
        if told.get("is") in ("on", "off"):
            return Literal(name, None, told["is"] == "on")
        for key, holds in (("at most", True), ("more than", False)):
            bound = told.get(key)
            if isinstance(bound, int | float) and not isinstance(bound, bool) and math.isfinite(bound):
                return Literal(name, bound, holds, minus)
    raise CertificateError(
        'a fact should read {"state": NAME, "is": "on" or "off"}, {"state": NAME, "at most": NUMBER} '
        'or {"state": NAME, "more than": NUMBER}'
    )
