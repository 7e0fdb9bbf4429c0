"""`rungproof coverage`: what it prints, its exit codes, its JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.commands.main import main

Validated = Callable[[Path], dict[str, Any]]


def test_rungs_are_drawn_with_what_was_shown(
    lamp: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], validated: Validated
) -> None:
    """Exit code 0 where nothing is missing; JSON as the schema documents it."""
    out = tmp_path / "out.json"
    assert main(["coverage", str(lamp), "--time", "1", "--json", str(out)]) == 0
    told = capsys.readouterr().out
    assert "door_ok  0/1  shown by the search" in told and "unique-cause MC/DC" in told
    assert "not a safety-rated tool" in " ".join(told.split())
    result = validated(out)
    assert result["coverage"]["score"] == 1.0


def test_files_that_cannot_be_run_are_told(
    broken: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], validated: Validated
) -> None:
    """The diagnoses, and exit code 2."""
    out = tmp_path / "out.json"
    assert main(["coverage", str(broken), "--json", str(out)]) == 2
    validated(out)
    assert "broken.rung:2" in capsys.readouterr().out
