"""The ways in which a requirement can be put to the prover, and what each rests on.

The first says most: nothing is assumed. The others are tried where it does not stand. A certificate names its way, so
that it is checked again in the same.
"""

from __future__ import annotations

from typing import Literal, get_args

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.envelope import Fact
from rungproof.logic.proofs.system import System, UnprovableError, requirement_system
from rungproof.logic.proofs.system_loop import loop_system, why_not_loop
from rungproof.logic.proofs.system_plant import plant_facts, plant_system, why_not_envelope

#: as it stands  inputs free, or in a requirement on the machine itself every amount and every output of the program
#: envelope      the machine with its amounts as fast as its own lines allow, and no faster
#: loop          the machine with its program; every amount free; with one thing failed, where that is asked for
Way = Literal["as it stands", "envelope", "loop"]
FIRST_WAY: Way = "as it stands"
WAYS: tuple[Way, ...] = get_args(Way)


def further_ways(program: Program, requirement: Requirement) -> tuple[Way, ...]:
    """The ways beside the first, in the order in which they are worth trying."""
    found: list[Way] = []
    if why_not_loop(program, requirement) is None:
        found.append("loop")
    if why_not_envelope(program, requirement) is None and plant_facts(program, requirement):
        found.append("envelope")
    return tuple(found)


def facts_behind(program: Program, requirement: Requirement, way: Way) -> tuple[Fact, ...]:
    """The assumptions of a proof in that way, in the order of their numbers."""
    return plant_facts(program, requirement) if way == "envelope" else ()


def system_of(program: Program, requirement: Requirement, way: Way) -> System:
    """The system of a requirement in that way. Raises `UnprovableError` where there is none."""
    if way == "as it stands":
        return requirement_system(program, requirement)
    reason = why_not_loop(program, requirement) if way == "loop" else why_not_envelope(program, requirement)
    if reason is not None:
        raise UnprovableError(reason)
    if way == "loop":
        return loop_system(program, requirement)
    return plant_system(program, requirement, facts_behind(program, requirement, way))
