"""Which engine searches, and by what name results call it."""

from __future__ import annotations

from functools import cache

from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Engine
from rungproof.logic.engines.reference import ReferenceEngine


@cache
def fast_engine() -> Engine:
    """The engine that searches unless another one is given."""
    return CompiledEngine()


@cache
def reference_engine() -> Engine:
    """The engine that defines what a run is: every violation is replayed in it."""
    return ReferenceEngine()


def name_of(engine: Engine | None) -> str:
    """`compiled` or `reference`. An engine of one's own counts as slow."""
    if engine is None:
        return "compiled"
    return "compiled" if type(engine).__name__.startswith("Compiled") else "reference"
