"""What all tests share: how they stay the same on a machine that is slow or busy."""

from __future__ import annotations

from typing import Any

import pytest
from rungproof.logic.checks import check


class _Unhurried(check._Check):
    """A check that no clock cuts: its plan bounds the search, and steps bound its proofs."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.unhurried = True


@pytest.fixture
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Checks in this process, by whatever verb, are cut by no clock: what they find hangs on the seed alone.

    A time that a test names still sizes the plan, so that a quick machine takes no longer.
    """
    monkeypatch.setattr(check, "_Check", _Unhurried)
