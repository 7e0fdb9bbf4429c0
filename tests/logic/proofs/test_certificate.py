"""Certificates: written, read, held to their schema, stale where they should be, and never verified for a lie."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import known_answers as known
import pytest
from rungproof.logic.commands.main import main
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.certificate import (
    Certificate,
    CertificateError,
    certify,
    changed_since,
    read_certificate,
    system_digest,
)
from rungproof.logic.proofs.literals import Invariant, Literal
from rungproof.logic.proofs.sentences import Sayer
from rungproof.logic.proofs.system import requirement_system
from strongest import reachable, strongest

SCHEMA = json.loads(resources.files("rungproof.logic.proofs").joinpath("certificate.schema.json").read_text("utf-8"))

PLANT_ROOM = """
controller "Plant room" every 10 ms

tags
    start_pb input bool
    stop_ok input bool
    float_ok input bool
    horn_pb input bool
    running memory bool
    tripped memory bool retained
    level parameter int 1..4 = 2
    filled memory int 0..9
    horn output bool on stop off

rung trip "The float trips"
    not float_ok
    => set tripped

rung run
    rising start_pb or running
    stop_ok
    not tripped
    => running

rung fill
    running
    => filled := min(filled + 1, level)

rung horn
    horn_pb
    => horn

requirement R1 "A tripped pump does not run"
    never running and tripped

requirement R2 "No more than four"
    never filled > 4

assume "The float is never wrong"
    float_ok or not float_ok
"""


def program_of(text: str) -> Program:
    understood = understand_texts({"room.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def certificate_of(text: str, name: str = "R1") -> Certificate:
    """A certificate with the strongest short invariant."""
    program = program_of(text)
    requirement = next(each for each in program.requirements if each.name == name)
    rows, depth = reachable(requirement_system(program, requirement))
    assert depth is None
    return certify(program, requirement, strongest(rows), "exploration", {"rungproof": "test"})


Recheck = Callable[..., tuple[int, str]]


@pytest.fixture
def recheck(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Recheck:
    """`rungproof recheck` on a certificate's text and a program's: exit code, and all that was printed."""

    def run(certificate: str, text: str, *more: str) -> tuple[int, str]:
        (tmp_path / "R.json").write_text(certificate, encoding="utf-8")
        (tmp_path / "room.rung").write_text(text, encoding="utf-8")
        code = main(["recheck", str(tmp_path / "R.json"), str(tmp_path / "room.rung"), *more])
        out, err = capsys.readouterr()
        return code, " ".join((out + err).split())

    return run


@pytest.mark.parametrize("name", ["R1", "R2"])
def test_a_certificate_holds_to_its_schema_and_comes_back(name: str) -> None:
    """What is written is what the schema documents, and is read back the same."""
    certificate = certificate_of(PLANT_ROOM, name)
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.Draft202012Validator(SCHEMA).validate(json.loads(certificate.to_text()))
    assert read_certificate(certificate.to_text()) == certificate


@pytest.mark.parametrize("name", ["R1", "R2"])
def test_an_untouched_program_is_verified(recheck: Recheck, name: str) -> None:
    """Exit code 0, with the invariant in sentences and the rungs it rests on."""
    code, said = recheck(certificate_of(PLANT_ROOM, name).to_text(), PLANT_ROOM)
    assert code == 0
    assert f"{name} verified" in said
    assert "rests on rungs trip, run" in said
    assert "In the model; nothing was measured on a machine." in said


def test_layout_remarks_and_unrelated_rungs_make_nothing_stale(recheck: Recheck) -> None:
    """Only what the requirement depends on counts."""
    text = PLANT_ROOM.replace('"The float trips"', '"Another remark"').replace(
        "    horn_pb\n    =>", "    not horn_pb\n    =>"
    )
    text = text.replace("rung run\n", "# a remark of its own\n\nrung run\n")
    assert recheck(certificate_of(PLANT_ROOM).to_text(), text)[0] == 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("    stop_ok\n", "", "rung `run` changed"),
        ("    not float_ok\n    => set", "    not float_ok\n    not running\n    => set", "rung `trip` changed"),
        ("tripped memory bool retained", "tripped memory bool", "tag `tripped` changed"),
        ("every 10 ms", "every 5..10 ms", None),
        ("never running and tripped", "never running and not stop_ok", "requirement R1 says something else"),
        ("A tripped pump", "No pump", "requirement R1 says something else"),
        ("requirement R1", "requirement R7", "requirement R1 is gone"),
        ("float_ok or not float_ok", "float_ok", 'assumption "The float is never wrong" changed'),
        ("rung run\n", "rung go\n", "rung `run` is no longer part of it; rung `go` is now part of it"),
    ],
)
def test_a_change_makes_it_stale_and_is_named(recheck: Recheck, old: str, new: str, words: str | None) -> None:
    """Exit code 1 and the name of what changed; a change that the requirement cannot feel leaves it verified."""
    assert old in PLANT_ROOM
    code, said = recheck(certificate_of(PLANT_ROOM).to_text(), PLANT_ROOM.replace(old, new))
    assert code == (1 if words else 0), said
    if words:
        assert "R1 stale" in said
        assert words.split("; ")[0] in said


def test_a_swapped_order_is_named(recheck: Recheck) -> None:
    """Rungs in another order are another program."""
    trip = 'rung trip "The float trips"\n    not float_ok\n    => set tripped\n\n'
    text = PLANT_ROOM.replace(trip, "").replace("rung fill\n", trip + "rung fill\n")
    code, said = recheck(certificate_of(PLANT_ROOM).to_text(), text)
    assert code == 1
    assert "the order of rungs changed" in said


def test_a_false_invariant_is_refused(recheck: Recheck) -> None:
    """A certificate whose clauses do not hold ends with exit code 1 and the clause."""
    told = json.loads(certificate_of(PLANT_ROOM).to_text())
    told["invariant"] = [[{"state": "running", "is": "off"}]]
    code, said = recheck(json.dumps(told), PLANT_ROOM)
    assert code == 1
    assert "R1 refused" in said
    assert "consecution of `not running` fails" in said


def test_a_false_requirement_cannot_be_certified(recheck: Recheck) -> None:
    """Whatever clauses are written for a requirement that is violated, none passes."""
    text = PLANT_ROOM.replace("    not tripped\n    => running", "    => running")
    program = program_of(text)
    for invariant in (
        Invariant(()),
        Invariant(((Literal("running", holds=False),),)),
        Invariant(((Literal("running"),), (Literal("running", holds=False),))),
        Invariant(((Literal("tripped", holds=False), Literal("running", holds=False)),)),
    ):
        certificate = certify(program, program.requirements[0], invariant, "a liar", {})
        code, said = recheck(certificate.to_text(), text)
        assert code == 1
        assert "R1 refused" in said


def test_a_clause_about_no_state_is_unknown(recheck: Recheck) -> None:
    """Exit code 3: nothing is said of what cannot be judged."""
    told = json.loads(certificate_of(PLANT_ROOM).to_text())
    told["invariant"].append([{"state": "elsewhere", "is": "on"}])
    code, said = recheck(json.dumps(told), PLANT_ROOM)
    assert code == 3
    assert "`elsewhere` is no state of the system" in said


def test_too_little_time_is_unknown(recheck: Recheck) -> None:
    """Exit code 3 where the solver had no time."""
    code, said = recheck(certificate_of(PLANT_ROOM).to_text(), PLANT_ROOM, "--time", "0.0001")
    assert code == 3
    assert "R1 unknown" in said


def without(told: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in told.items() if name != key}


SPOILT: dict[str, Callable[[dict[str, Any]], Any]] = {
    "another format": lambda told: {**told, "certificate": 2},
    "a list": lambda told: [told],
    "not proved": lambda told: {**told, "verdict": "simulated"},
    "no system": lambda told: without(told, "system"),
    "no versions": lambda told: without(told, "versions"),
    "an empty clause": lambda told: {**told, "invariant": [[]]},
    "a bound that is a truth": lambda told: {**told, "invariant": [[{"state": "filled", "at most": True}]]},
    "both ways at once": lambda told: {**told, "invariant": [[{"state": "a", "is": "on", "at most": 1}]]},
    "a fact of another kind": lambda told: {**told, "invariant": [[{"state": "a", "equals": 3}]]},
    "another kind of basis": lambda told: {**told, "rests_on": [{"kind": "hope", "name": "x", "digest": "0"}]},
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_spoilt_file_is_told_in_words(recheck: Recheck, name: str) -> None:
    """Exit code 2 and what is wrong; the schema refuses it too."""
    told = SPOILT[name](json.loads(certificate_of(PLANT_ROOM).to_text()))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(SCHEMA).validate(told)
    code, said = recheck(json.dumps(told), PLANT_ROOM)
    assert code == 2
    assert "is no certificate that can be checked" in said


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, '{"certificate": NaN}', "null", "\x00"])
def test_what_is_no_json_is_told_in_words(recheck: Recheck, text: str) -> None:
    """Broken text is answered, not thrown."""
    assert recheck(text, PLANT_ROOM)[0] == 2
    with pytest.raises(CertificateError):
        read_certificate(text)


def test_files_that_cannot_be_read_end_with_two(tmp_path: Path, recheck: Recheck) -> None:
    """A missing certificate, a folder for one, a broken project."""
    (tmp_path / "room.rung").write_text(PLANT_ROOM, encoding="utf-8")
    assert main(["recheck", str(tmp_path / "none.json"), str(tmp_path / "room.rung")]) == 2
    assert main(["recheck", str(tmp_path), str(tmp_path / "room.rung")]) == 2
    code, said = recheck(certificate_of(PLANT_ROOM).to_text(), "rung half\n    start_pb or\n")
    assert code == 2
    assert "no-controller" in said


def test_recheck_writes_json_that_holds_to_the_schema(recheck: Recheck, tmp_path: Path) -> None:
    """Answer and reasons for machines, in the common envelope."""
    schema = json.loads(resources.files("rungproof.logic.commands").joinpath("schema.json").read_text("utf-8"))
    for text, answer in ((PLANT_ROOM, "verified"), (PLANT_ROOM.replace("    stop_ok\n", ""), "stale"), ("rung", None)):
        recheck(certificate_of(PLANT_ROOM).to_text(), text, "--json", str(tmp_path / "out.json"))
        told = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator(schema).validate(told)
        assert told["answer"] == answer


DIGEST = """
import sys
from pathlib import Path
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.certificate import system_digest
from rungproof.logic.proofs.certificate_basis import basis_of
from rungproof.logic.proofs.system import requirement_system
program = understand_texts({"room.rung": sys.stdin.read()}).program
for each in program.requirements:
    print(system_digest(requirement_system(program, each)), basis_of(program, each))
"""


def test_digests_are_the_same_in_every_process() -> None:
    """No order of a set, no address and no seed is any part of what a certificate is about."""
    said = {
        subprocess.run(
            [sys.executable, "-c", DIGEST],
            input=PLANT_ROOM,
            text=True,
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(said) == 1
    program = program_of(PLANT_ROOM)
    assert said.pop().startswith(system_digest(requirement_system(program, program.requirements[0])))


# --------------------------------------------------------------------- sentences


@pytest.mark.parametrize(
    ("clause", "sentence"),
    [
        (
            (Literal("running", holds=False), Literal("tripped", holds=False)),
            "whenever `running` is on, `tripped` is off",
        ),
        ((Literal("filled", 4),), "always: `filled` is at most 4"),
        (
            (Literal("first after power-up"), Literal("run#1#before", holds=False), Literal("running")),
            "whenever the next scan is not the first after power-up and `rising start_pb` in `run` last met "
            "`start_pb` on, `running` is on",
        ),
        (
            (Literal("rest#elapsed", 240_000), Literal("rest#powered", holds=False)),
            "whenever `rest` has run for more than 4 min, power did not reach `rest` in the last scan",
        ),
        (
            (Literal("starts#count", 1, holds=False), Literal("starts#out", holds=False)),
            "whenever `starts` has counted at most 1 time, `starts` is off",
        ),
        ((Literal("R1/open", holds=False), Literal("R1/age", 500)),
         "whenever an obligation of R1 stands open, the time that R1 counts is at most 500 ms"),
        ((Literal("held:horn"), Literal("volume", 1.5)),
         "whenever the terminal of `horn` is off, `volume` is at most 1.5 L"),
    ],
)  # fmt: skip
def test_clauses_read_as_sentences(clause: tuple[Literal, ...], sentence: str) -> None:
    """The author's own tags and stages, in words; units and times as people write them."""
    text = PLANT_ROOM.replace(
        "    horn_pb\n", "    horn_pb\n    on-delay 5 min as rest\n    count-up 3 as starts clear by stop_ok\n"
    )
    text = text.replace("    horn output", "    volume memory real L 0..5\n    horn output").replace(
        "=> horn\n", "=> horn\n    => volume := 1 L\n"
    )
    assert Sayer(program_of(text)).clause(clause) == sentence


@pytest.mark.parametrize("text", [known.SEMAPHORE, known.INTERLOCKED, known.GIVE_WAY])
def test_every_clause_of_a_proof_has_a_sentence(text: str) -> None:
    """No clause of a found invariant is said in the prover's own names alone."""
    certificate = certificate_of(text)
    assert len(certificate.sentences) == len(certificate.invariant.clauses) > 0
    assert all("#" not in each for each in certificate.sentences)


def test_a_certificate_knows_that_its_requirement_is_unchanged() -> None:
    """The function behind the command: None where nothing that matters changed."""
    assert changed_since(certificate_of(PLANT_ROOM), program_of(PLANT_ROOM)) is None
