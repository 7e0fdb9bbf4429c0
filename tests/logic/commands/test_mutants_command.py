"""`rungproof mutants`: what it prints, its exit codes, its JSON."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from rungproof.logic.commands.main import main

SCHEMA = json.loads(resources.files("rungproof.logic.commands").joinpath("schema.json").read_text(encoding="utf-8"))

LAMP = """\
controller "Lamp" every 10 ms

tags
    door_ok  input   bool
    lamp     output  bool  on stop off

rung lamp
    not door_ok
    => lamp

requirement R1 "A shut door and a lit lamp never go together"
    never lamp and door_ok
"""


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    path = tmp_path / "lamp.rung"
    path.write_text(LAMP, encoding="utf-8")
    return path


def test_survivors_are_told_with_what_would_catch_them(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The changed lines, the story of the difference, and a suggestion; exit code 1 while there are any."""
    assert main(["mutants", str(lamp)]) == 1
    told = capsys.readouterr().out
    assert "killed    0  make for break: `door_ok` for `not door_ok`; by R1 at" in told
    assert "SURVIVOR" in told and "output lost: `=> lamp`" in told
    assert "suggestion" in told and "-     => lamp" in told
    assert "that are neither refused nor equal" in told
    assert "not a safety-rated tool" in " ".join(told.split())


def test_json_is_as_the_schema_documents(lamp: Path, tmp_path: Path) -> None:
    """Every mutant with rung, change, killed, by, equivalent and story."""
    code = main(["mutants", str(lamp), "lamp", "--json", str(tmp_path / "out.json")])
    result = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(SCHEMA).validate(result)
    assert result["exit_code"] == code
    killed = [each for each in result["mutants"] if each["killed"]]
    assert killed and all(each["by"] == "R1" and each["story"].startswith("scenario ") for each in killed)
    assert result["summary"]["killed"] == len(killed)


def test_files_that_cannot_be_run_have_no_mutants(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The diagnoses are told, exit code 2."""
    path = tmp_path / "broken.rung"
    path.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    assert main(["mutants", str(path), "--json", str(tmp_path / "out.json")]) == 2
    jsonschema.Draft202012Validator(SCHEMA).validate(json.loads((tmp_path / "out.json").read_text(encoding="utf-8")))
    assert "broken.rung:2" in capsys.readouterr().out


def test_a_rung_that_is_not_there_is_a_mistake_of_the_command_line(
    lamp: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the names there are."""
    assert main(["mutants", str(lamp), "lump"]) == 2
    assert "there are: lamp" in capsys.readouterr().err
