"""Every mistake put into the examples is caught, or stands in `examples/JUDGED.md` with somebody's reason."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic.api import mutants

EXAMPLES = Path(__file__).parents[3] / "examples"


def judged() -> dict[tuple[str, str, str], str]:
    """The reason for each row of the table, by rig, rung and change."""
    lines = (EXAMPLES / "JUDGED.md").read_text(encoding="utf-8").splitlines()
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("| ")]
    assert rows[0] == ["rig", "rung", "change", "fate", "judged"]
    return {(rig, rung, change): reason for rig, rung, change, _fate, reason in rows[1:]}


def test_the_table_is_about_mistakes_that_there_are() -> None:
    """Each row has a reason of some words, and names a rig."""
    assert judged()
    for (rig, _rung, _change), reason in judged().items():
        assert (EXAMPLES / rig / "controller.rung").exists()
        assert len(reason.split()) > 8


@pytest.mark.slow
@pytest.mark.parametrize("name", ["press_guard", "dosing", "ventilation_fan"])
def test_no_other_mistake_goes_unnoticed(name: str) -> None:
    """Whoever changes an example and leaves a mistake uncaught hears of it here; 95 in 100 are killed at the least."""
    result = mutants(EXAMPLES / name)
    left = {(name, each.rung, each.change) for fate in ("survivor", "undecided") for each in result.of(fate)}
    assert left <= set(judged())
    assert result.score is not None and result.score >= 0.95
    assert not result.failing
