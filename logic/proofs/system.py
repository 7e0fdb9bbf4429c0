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
)
from rungproof.logic.proofs.system_builder import why_not as why_not_tags
from rungproof.logic.proofs.system_plant import plant_system, why_not_plant
from rungproof.logic.proofs.system_stops import StopsBuilder
from rungproof.logic.steps.collector import held_collector

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


def why_not(program: Program, requirement: Requirement) -> str | None:
    """Why a requirement has no system; None if it has one."""
    if requirement.instants == "tick" and program.controller is not None:
        return why_not_plant(requirement)
    return why_not_tags(program, requirement)


def requirement_system(program: Program, requirement: Requirement) -> System:
    """The system of a requirement on tags alone, or on what is truths and times in the plant. Raises
    `UnprovableError` for any other."""
    reason = why_not(program, requirement)
    if reason is not None:
        raise UnprovableError(reason)
    with held_collector():
        if requirement.instants == "tick":
            return plant_system(program, requirement)
        assert program.controller is not None
        if requirement.any_one_fault:
            return StopsBuilder(program, program.controller, requirement).build()
        return Builder(program, program.controller, requirement).build()
