"""What a change touches: the requirements whose rungs, tags or words are not as they were."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.proofs.certificate_basis import Basis, basis_of, changes
from rungproof.logic.proofs.sides import same_plant


@dataclass(frozen=True, slots=True)
class Touched:
    """A requirement of either version. `how`: its basis changed, or only one of the two has it; `because` names
    what changed, in words."""

    requirement: str
    how: Literal["touched", "untouched", "new", "gone"]
    because: tuple[str, ...] = ()


def touched_by(old: Program, new: Program) -> tuple[Touched, ...]:
    """Every requirement of both versions, those of the new one first."""
    before = {each.name: each for each in old.requirements}
    plant = () if same_plant(old, new) else ("the plant or the wiring changed",)
    found = [_of(old, before.get(each.name), new, each, plant) for each in new.requirements]
    there = {each.name for each in new.requirements}
    return (*found, *(Touched(name, "gone") for name in before if name not in there))


def _of(old: Program, before: Requirement | None, new: Program, now: Requirement, plant: tuple[str, ...]) -> Touched:
    if before is None:
        return Touched(now.name, "new")
    told = tuple(changes(_basis(old, before), _basis(new, now)))
    if "tick" in (before.instants, now.instants):
        told += plant
    if (before.sentence, before.restatement) != (now.sentence, now.restatement) and not told:
        told = (f"requirement {now.name} says something else",)
    return Touched(now.name, "touched" if told else "untouched", told)


def _basis(program: Program, requirement: Requirement) -> Iterable[Basis]:
    """What it rests on. What speaks of the plant rests on every rung: the plant joins outputs and inputs."""
    if program.controller is None:
        return ()
    return basis_of(program, requirement, whole=requirement.instants == "tick" or requirement.outputs_free)
