"""The command `independence`: a table that a reviewer can sign, and the same as JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.commands.main import main

Validated = Callable[[Path], dict[str, Any]]

EXAMPLES = Path(__file__).parents[3] / "examples"


def test_the_table_names_layers_failures_and_a_place_to_sign(capsys: pytest.CaptureFixture[str]) -> None:
    """Who sees, what defeats each layer alone and in pairs, the cautions, and a line to sign for each hazard."""
    assert main(["independence", str(EXAMPLES / "header_tank")]) == 0
    printed = capsys.readouterr().out
    for words in ("circuit", "LS2 does not respond", "no single failure defeats it", "166 of 166 pairs tried"):
        assert words in " ".join(printed.split())
    assert "local codes and licensed practice decide" in " ".join(printed.split())
    assert printed.count("read and agreed: ____") == 2


def test_a_warning_ends_with_exit_code_1(tmp_path: Path, validated: Validated) -> None:
    """The JSON keeps to the schema and holds the finding with its place."""
    file = tmp_path / "out.json"
    assert main(["independence", str(EXAMPLES / "press_guard"), "--json", str(file)]) == 1
    result = validated(file)
    [finding] = [f for f in result["hazards"][0]["findings"] if f["grade"] == "warning"]
    assert finding["code"] == "layers-share-one"
    assert finding["file"].endswith("requirements.rung")


def test_files_that_cannot_run_end_with_2(tmp_path: Path, validated: Validated) -> None:
    """Nothing is made up where nothing can be read."""
    file, path = tmp_path / "out.json", tmp_path / "broken.rung"
    path.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    assert main(["independence", str(path), "--json", str(file)]) == 2
    result = validated(file)
    assert result["hazards"] == []
    assert result["findings"]


def test_a_project_without_hazards_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No hazard, nothing to guard."""
    path = tmp_path / "c.rung"
    path.write_text(
        'controller "C" every 10 ms\n\ntags\n    a  input  bool\n    b  output  bool\n\nrung r\n    a\n    => b\n'
    )
    assert main(["independence", str(path)]) == 0
    assert "No hazard is declared" in capsys.readouterr().out
