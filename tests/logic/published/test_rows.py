"""Every published row, on every engine."""

from __future__ import annotations

import pytest
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.understand import understand_texts
from tables import ENGINES, REFUSED_PRESETS, ROWS, Row, run_text, values_of


@pytest.fixture(params=list(ENGINES.values()), ids=list(ENGINES))
def engine(request: pytest.FixtureRequest) -> Engine:
    """One engine after another."""
    engine: Engine = request.param
    return engine


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_published_row(engine: Engine, row: Row) -> None:
    """The tags a row names hold, scan by scan, the values it gives."""
    ran = run_text(engine, row.text, row.inputs, row.scans)
    for tag, column in row.expected.items():
        assert list(ran.columns[tag]) == values_of(column), (tag, row.source)


@pytest.mark.parametrize("text", REFUSED_PRESETS)
def test_preset_of_nothing_is_refused(text: str) -> None:
    """Presets of 0, on which the standard's readers differ, are refused with a diagnosis."""
    understood = understand_texts({"row.rung": text})
    assert understood.program is None
    assert [each.span.line for each in understood.diagnoses if each.grade == "error"] == [
        1 + next(i for i, line in enumerate(text.splitlines()) if " as s" in line)
    ]
