"""Which engine searches, and by what name results call it."""

from __future__ import annotations

from functools import cache

from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Engine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine

#: From so many stories of about one length on, side by side is quicker than one after another.
LANES_FROM = 64


@cache
def fast_engine() -> Engine:
    """The engine that searches unless another one is given."""
    return CompiledEngine()


@cache
def lanes_engine() -> LanesEngine:
    """The engine that runs many stories side by side, with the outcomes of the fast one."""
    return LanesEngine()


@cache
def reference_engine() -> Engine:
    """The engine that defines what a run is: every violation is replayed in it."""
    return ReferenceEngine()


def name_of(engine: Engine | None) -> str:
    """`compiled` or `reference`. An engine of one's own counts as slow."""
    if engine is None:
        return "compiled"
    return "compiled" if type(engine).__name__.startswith("Compiled") else "reference"
