"""What tests of teaching share.

Pytest's importlib mode puts no folder on the path: the generators of programs are made importable here.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from rungproof.logic.teaching import judging

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parents[1] / "engines"))


@pytest.fixture(autouse=True)
def _time_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer is graded by what it says, also on a slow or busy machine: the number of runs bounds the search.

    Proofs keep their time: one that comes to no end would use up the seconds that a submission has in all.
    """
    monkeypatch.setattr(judging, "SEARCH_S", 10 * judging.SEARCH_S)
