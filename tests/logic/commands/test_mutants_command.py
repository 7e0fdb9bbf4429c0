"""`rungproof mutants`: what it prints, its exit codes, its JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.commands.main import main

Validated = Callable[[Path], dict[str, Any]]


def test_survivors_are_told_with_what_would_catch_them(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The changed lines, the story of the difference, and a suggestion; exit code 1 while there are any."""
    assert main(["mutants", str(lamp)]) == 1
    told = capsys.readouterr().out
    assert "killed    0  make for break: `door_ok` for `not door_ok`; by R1 at" in told
    assert "SURVIVOR" in told and "output lost: `=> lamp`" in told
    assert "suggestion" in told and "-     => lamp" in told
    assert "that are neither refused nor equal" in told
    assert "not a safety-rated tool" in " ".join(told.split())


def test_json_is_as_the_schema_documents(lamp: Path, tmp_path: Path, validated: Validated) -> None:
    """Every mutant with rung, change, killed, by, equivalent and story."""
    code = main(["mutants", str(lamp), "lamp", "--json", str(tmp_path / "out.json")])
    result = validated(tmp_path / "out.json")
    assert result["exit_code"] == code
    killed = [each for each in result["mutants"] if each["killed"]]
    assert killed and all(each["by"] == "R1" and each["story"].startswith("scenario ") for each in killed)
    assert result["summary"]["killed"] == len(killed)


def test_files_that_cannot_be_run_have_no_mutants(
    broken: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], validated: Validated
) -> None:
    """The diagnoses are told, exit code 2."""
    assert main(["mutants", str(broken), "--json", str(tmp_path / "out.json")]) == 2
    validated(tmp_path / "out.json")
    assert "broken.rung:2" in capsys.readouterr().out


def test_a_rung_that_is_not_there_is_a_mistake_of_the_command_line(
    lamp: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the names there are."""
    assert main(["mutants", str(lamp), "lump"]) == 2
    assert "there are: lamp" in capsys.readouterr().err
