"""Makes `rung_strategies` importable: pytest's importlib mode puts no folder on the path."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from rungproof.grammar import CATALOGUE, Reporter

sys.path.append(str(Path(__file__).parent))


@pytest.fixture
def reporter() -> Reporter:
    """An empty reporter over the whole catalogue."""
    return Reporter(dict(CATALOGUE))
