"""What can move, and a program that counts how often each of it comes on."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import AtMost, Program, Requirement
from rungproof.logic.meaning.typed import Constant, EdgeOf, Expression, PartReading, TagValue

#: Words of a tag that only shows something, where no plant tells.
_SHOWS = re.compile(r"(?<![a-z])(?:lamp|horn|beacon|buzzer|sounder|bell|siren|shown|alarm)s?(?![a-z])")

#: Longer than any run (ms).
EVER = 10**9

_NOWHERE = Span("", 1, 1, 1)


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
            return TagValue(type="bool", span=_NOWHERE, tag=self.key)
        return PartReading(type="bool", span=_NOWHERE, key=self.key)


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


def counting(program: Program, moving: tuple[Moving, ...], least: int) -> Program:
    """The program with, in place of its requirements, one for each thing that moves: it comes on `least` times at most.

    Its first violation is the instant at which it comes on once more. Assumptions stay.
    """
    requirements = []
    for each in moving:
        edge = EdgeOf(type="bool", span=_NOWHERE, kind="rising", operand=each.expression(), slot=f"restart/{each.key}")
        ever = Constant(type="int", low=EVER, high=EVER, span=_NOWHERE, value=EVER)
        requirements.append(
            Requirement(
                name=each.key,
                sentence="",
                restatement="",
                against=(),
                form=AtMost(least, edge, ever),
                from_time=None,
                outputs_free=False,
                any_one_fault=True,
                instants="scan" if each.is_tag else "tick",
                looked_at="at the terminals" if each.is_tag else "at the machine",
                horizon=0,
                span=_NOWHERE,
            )
        )
    return replace(program, requirements=tuple(requirements), scenarios=(), hazards=())
