"""Mutants are judged by what is known of them, not by how quick the machine is."""

from __future__ import annotations

import pytest
from rungproof.logic.mutants import judge, suggest


@pytest.fixture(autouse=True)
def _time_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """The programs here are small: a proof that is there is found in a moment, or on a busy machine somewhat later."""
    monkeypatch.setattr(judge, "EQUAL_S", 60.0)
    monkeypatch.setattr(suggest, "PROVE_S", 60.0)
