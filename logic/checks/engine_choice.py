"""Which engine searches, and by what name results call it."""

from __future__ import annotations

from functools import cache

from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Engine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program

#: From so many stories of about one length on, side by side is quicker than one after another.
LANES_FROM = 64

#: A program of more rungs is large.
LARGE = 2000


@cache
def fast_engine() -> Engine:
    """The engine that searches unless another one is given."""
    return CompiledEngine()


@cache
def _sparing_engine() -> Engine:
    return CompiledEngine(asked_only=True)


def is_large(program: Program) -> bool:
    """Whether generating code for all of it takes seconds."""
    return program.controller is not None and len(program.controller.rungs) > LARGE


def search_engine(program: Program) -> Engine:
    """The fast engine; for a large program one that leaves out what no requirement asks about."""
    return _sparing_engine() if is_large(program) else fast_engine()


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
