"""The command `restart`: a row for each thing that moves and each kind of cause."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.commands.main import main

Validated = Callable[[Path], dict[str, Any]]

EXAMPLES = Path(__file__).parents[3] / "examples"


def test_a_restart_is_told_with_its_story(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], validated: Validated
) -> None:
    """Exit code 1, the story on the screen and as a file that `replay` runs, the JSON by the schema."""
    wrong, file = EXAMPLES / "mistakes" / "estop_release_restarts.rung", tmp_path / "out.json"
    assert main(["restart", str(wrong), "--stories", str(tmp_path / "stories"), "--json", str(file)]) == 1
    printed = " ".join(capsys.readouterr().out.split())
    assert "saw started by start_pb" in printed
    assert "the reference engine shows the same" in printed
    assert "local codes and licensed practice decide" in printed
    validated(file)
    assert main(["replay", str(wrong), str(tmp_path / "stories" / "saw_emergency_stop_release.rung")]) == 1


def test_no_restart_says_how_it_was_looked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """`None found` stands beside the number of runs and what they are."""
    assert main(["restart", str(EXAMPLES / "mistakes" / "estop_release_restarts_corrected.rung")]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "`None found` is not `proved`" in printed
    assert "restarts none found" in printed


def test_files_that_cannot_run(tmp_path: Path, validated: Validated) -> None:
    """Nothing is made up where nothing can be read."""
    path, file = tmp_path / "broken.rung", tmp_path / "out.json"
    path.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    assert main(["restart", str(path), "--json", str(file)]) == 2
    validated(file)
