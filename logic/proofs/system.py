"""The front door of systems: the one that belongs to a requirement, and the names in it."""

from __future__ import annotations

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.system_builder import (
    ASSUMED,
    BAD,
    CUT,
    FIRST,
    LAST_SCAN,
    LONGEST_OUTAGE,
    OUTAGE_TICKS,
    RUNNING,
    SCAN_TICKS,
    SEEN,
    STOP,
    STOPPED,
    TRIGGERED,
    Builder,
    System,
    UnprovableError,
    why_not,
)
from rungproof.logic.proofs.system_stops import StopsBuilder

__all__ = [
    "ASSUMED",
    "BAD",
    "CUT",
    "FIRST",
    "LAST_SCAN",
    "LONGEST_OUTAGE",
    "OUTAGE_TICKS",
    "RUNNING",
    "SCAN_TICKS",
    "SEEN",
    "STOP",
    "STOPPED",
    "TRIGGERED",
    "System",
    "UnprovableError",
    "requirement_system",
    "why_not",
]


def requirement_system(program: Program, requirement: Requirement) -> System:
    """The system of a requirement on tags alone. Raises `UnprovableError` for any other."""
    reason = why_not(program, requirement)
    if reason is not None:
        raise UnprovableError(reason)
    assert program.controller is not None
    if requirement.any_one_fault:
        return StopsBuilder(program, program.controller, requirement).build()
    return Builder(program, program.controller, requirement).build()
