"""What can move, and a program that counts how often each of it comes on."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import AtMost, Program, Requirement
from rungproof.logic.meaning.typed import Constant, EdgeOf, Expression, PartReading, TagValue

#: Words of a tag that only shows something, where no plant tells.
_SHOWS = re.compile(r"(?<![a-z])(?:lamp|horn|beacon|buzzer|sounder|bell|siren|shown|alarm)s?(?![a-z])")

#: Longer than any run (ms).
EVER = 10**9

#: These expressions come from no file.
NOWHERE = Span("", 1, 1, 1)


@dataclass(frozen=True, slots=True)
class Moving:
    """One thing that can move: `key` is what is read of it, `name` how it is called in a row.

    `tags` are the output tags that switch it; `reading` is how a file reads it.
    """

    key: str
    name: str
    tags: tuple[str, ...]
    is_tag: bool

    @property
    def reading(self) -> str:
        return self.key

    def expression(self) -> Expression:
        if self.is_tag:
            return TagValue(type="bool", span=NOWHERE, tag=self.key)
        return PartReading(type="bool", span=NOWHERE, key=self.key)


def moving_of(program: Program) -> tuple[Moving, ...]:
    """With a plant every part that is driven and more than a relay or a lamp, by its `energised`, and the output tags
    that move something; without one every bool output that is no lamp by name or remark."""
    if program.controller is None:
        tags = []
    elif program.plant is None:
        outputs = [t for t in program.controller.tags.values() if t.role == "output" and t.type == "bool"]
        tags = [t.name for t in outputs if not _SHOWS.search(f"{t.name} {t.remark or ''}".lower())]
    else:
        reach = Reach(program.plant)
        outputs = [t for t in program.controller.tags.values() if t.role == "output" and t.type == "bool"]
        tags = [t.name for t in outputs if reach.moves(t.name)]
    found = [Moving(tag, tag, (tag,), True) for tag in tags]
    if program.plant is not None:
        reach = Reach(program.plant)
        for name in dict.fromkeys(drive.partition(".")[0] for drive in reach.moving()):
            if f"{name}.energised" in program.plant.assembly.outputs:
                switching = {tag for drive in reach.coils(name) for tag in reach.cone(drive).terminals}
                found.append(Moving(f"{name}.energised", name, tuple(sorted(switching & set(tags))), False))
    return tuple(found)


def off_name(key: str) -> str:
    """The name of the requirement that notices when a thing goes off."""
    return f"{key}#off"


def counting(program: Program, moving: tuple[Moving, ...], least: int) -> Program:
    """The program with, in place of its requirements, two for each thing that moves: it comes on `least` times at most,
    and it never goes off.

    The first violation of either is the instant at which it comes on once more, or goes off. Assumptions stay.
    """
    requirements = []
    for each in moving:
        requirements.append(_at_most(each, each.key, "rising", least))
        requirements.append(_at_most(each, off_name(each.key), "falling", 0))
    return replace(program, requirements=tuple(requirements), scenarios=(), hazards=())


def _at_most(moving: Moving, name: str, kind: Literal["rising", "falling"], count: int) -> Requirement:
    edge = EdgeOf(type="bool", span=NOWHERE, kind=kind, operand=moving.expression(), slot=f"restart/{name}")
    ever = Constant(type="int", low=EVER, high=EVER, span=NOWHERE, value=EVER)
    return Requirement(
        name=name,
        sentence="",
        restatement="",
        against=(),
        form=AtMost(count, edge, ever),
        from_time=None,
        outputs_free=False,
        any_one_fault=True,
        instants="scan" if moving.is_tag else "tick",
        looked_at="at the terminals" if moving.is_tag else "at the machine",
        horizon=0,
        span=NOWHERE,
    )
