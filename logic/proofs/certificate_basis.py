"""What a proof rests on: the rungs, tags and sentences that its requirement depends on, each by its digest.

Found on the typed program by names alone, so it names at least what the Step's own cone of
influence has in it. Digests are over meaning: remarks, places and layout are not in them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal

from rungproof.logic.meaning.program import Controller, Program, Requirement, Rung, Stage, Tag
from rungproof.logic.meaning.typed import StageOutput, StageReading, TagValue

Kind = Literal["rung", "tag", "requirement", "assumption", "scan time", "order of rungs", "plant"]
KINDS: tuple[Kind, ...] = ("rung", "tag", "requirement", "assumption", "scan time", "order of rungs", "plant")


@dataclass(frozen=True, slots=True)
class Basis:
    """One thing that a proof rests on; `digest` is the SHA-256 of its meaning, in hexadecimal."""

    kind: Kind
    name: str
    digest: str

    @property
    def words(self) -> str:
        if self.kind == "requirement":
            return f"requirement {self.name}"
        if self.kind == "assumption":
            return f'assumption "{self.name}"'
        return f"{self.kind} `{self.name}`" if self.name else f"the {self.kind}"


def digest(*parts: object) -> str:
    """The SHA-256 of the parts as they print."""
    return hashlib.sha256("\n".join(repr(each) for each in parts).encode()).hexdigest()


def changes(before: Iterable[Basis], now: Iterable[Basis]) -> list[str]:
    """In words what of `before` changed or has left it, and what has come in, which may have stood there before."""
    was, has = ({(each.kind, each.name): each for each in parts} for parts in (before, now))
    told = [
        f"{each.words} {'changed' if key in has else 'is no longer part of it'}"
        for key, each in was.items()
        if key not in has or has[key].digest != each.digest
    ]
    return told + [f"{each.words} is now part of it" for key, each in has.items() if key not in was]


def basis_of(
    program: Program, requirement: Requirement, *, whole: bool = False, way: str = "as it stands"
) -> tuple[Basis, ...]:
    """All that `requirement` rests on, rungs first; `whole` takes every rung and every tag. `way`: how it was put
    to the prover, see `ways.py`."""
    controller = program.controller
    assert controller is not None, "a proof is about a controller"
    assumed = [each for each in program.assumptions if each.instants == "scan"]
    plant: tuple[Basis, ...] = ()
    if requirement.instants == "tick" and way == "loop":
        plant, whole = (Basis("plant", *_plant_of(program, requirement, way)),), True
    rungs, names = _cone(controller, [requirement.form, requirement.from_time, *(each.condition for each in assumed)])
    if requirement.instants == "tick" and not whole:
        return (
            Basis("plant", *_plant_of(program, requirement, way)),
            Basis("requirement", requirement.name, digest(*_said(requirement))),
        )
    if whole:
        rungs, names = list(controller.rungs), set(controller.tags)
    wires = {wire.tag: wire.channel for wire in program.plant.inputs} if program.plant is not None else {}
    tick = program.plant.tick if program.plant is not None else 1
    tags = [tag for tag in controller.tags.values() if tag.name in names]
    return (
        *plant,
        *(Basis("rung", rung.name, digest(rung.elements, rung.outputs)) for rung in rungs),
        *(Basis("tag", tag.name, digest(_meant(tag), wires.get(tag.name))) for tag in tags),
        Basis("requirement", requirement.name, digest(*_said(requirement))),
        *(Basis("assumption", each.sentence, digest(each.condition)) for each in assumed),
        Basis("scan time", "", digest(controller.scan_low, controller.scan_high, tick)),
        Basis("order of rungs", "", digest([rung.name for rung in rungs])),
    )


def _plant_of(program: Program, requirement: Requirement, way: str) -> tuple[str, str]:
    """The plant's name, and the digest of the part of it that the requirement depends on."""
    from rungproof.logic.proofs.ways import WAYS, system_of
    from rungproof.logic.steps.text import print_step

    assert program.plant is not None, "what has ticks has a plant"
    known = next(each for each in WAYS if each == way)
    return program.plant.name, digest(print_step(system_of(program, requirement, known).step))


def _meant(tag: Tag) -> tuple[object, ...]:
    return tag.role, tag.type, tag.unit, tag.low, tag.high, tag.start, tag.on_stop, tag.retained


def _said(requirement: Requirement) -> tuple[object, ...]:
    return (
        requirement.form,
        requirement.from_time,
        requirement.outputs_free,
        requirement.any_one_fault,
        requirement.instants,
    )


def _cone(controller: Controller, roots: Iterable[object]) -> tuple[list[Rung], set[str]]:
    """The rungs that write what `roots` read, directly or by way of other rungs; and every name read or written."""
    wanted = {name for root in roots for name in names_read(root)}
    taken: list[Rung] = []
    left = {rung.name: (rung, _written(rung)) for rung in controller.rungs}
    while True:
        found = [name for name, (_, written) in left.items() if written & wanted]
        if not found:
            order = {rung.name: place for place, rung in enumerate(controller.rungs)}
            return sorted(taken, key=lambda rung: order[rung.name]), wanted
        for name in found:
            rung, written = left.pop(name)
            taken.append(rung)
            wanted |= written | names_read(rung)


def _written(rung: Rung) -> set[str]:
    """Tags that a rung drives and the stages in it."""
    stages = {each.name for each in rung.elements if isinstance(each, Stage)}
    return stages | {output.target for output in rung.outputs}


def names_read(root: object) -> set[str]:
    """The tags and stages that a form, an expression or a rung reads."""
    found: set[str] = set()
    for each in parts_of(root):
        if isinstance(each, TagValue):
            found.add(each.tag)
        elif isinstance(each, StageOutput | StageReading):
            found.add(each.stage)
    return found


def parts_of(root: object) -> Iterator[Any]:
    """Every dataclass that `root` is made of, itself included."""
    pending = [root]
    while pending:
        each = pending.pop()
        if isinstance(each, tuple | list):
            pending += each
        elif is_dataclass(each):
            yield each
            pending += [getattr(each, field.name) for field in fields(each) if field.compare]
