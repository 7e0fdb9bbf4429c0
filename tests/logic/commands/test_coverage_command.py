"""`rungproof coverage`: what it prints, its exit codes, its JSON."""

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


def test_rungs_are_drawn_with_what_was_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 0 where nothing is missing; JSON as the schema documents it."""
    path = tmp_path / "lamp.rung"
    path.write_text(LAMP, encoding="utf-8")
    out = tmp_path / "out.json"
    assert main(["coverage", str(path), "--time", "1", "--json", str(out)]) == 0
    told = capsys.readouterr().out
    assert "door_ok  0/1  shown by the search" in told and "unique-cause MC/DC" in told
    assert "not a safety-rated tool" in " ".join(told.split())
    result = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(SCHEMA).validate(result)
    assert result["coverage"]["score"] == 1.0


def test_files_that_cannot_be_run_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The diagnoses, and exit code 2."""
    path = tmp_path / "broken.rung"
    path.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    out = tmp_path / "out.json"
    assert main(["coverage", str(path), "--json", str(out)]) == 2
    jsonschema.Draft202012Validator(SCHEMA).validate(json.loads(out.read_text(encoding="utf-8")))
    assert "broken.rung:2" in capsys.readouterr().out
