"""A program with latches in it that remember what was ever seen: rows of decisions, marks of stages.

The latches are tags of the program's own memory, retained, so that any engine keeps them and a
run's last values say what it reached. Paths are cut after each stage, so that a latch looks at
its contacts at the very place of the scan where the path does; nothing else of the program changes.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from rungproof.grammar.tree import Relation, Span
from rungproof.logic.coverage.decisions import Decision, Segment, Texts, rung_decisions, segments_of
from rungproof.logic.coverage.pairs import Row
from rungproof.logic.meaning.program import Condition, Controller, Output, Program, Rung, Stage, Tag
from rungproof.logic.meaning.typed import (
    AllOf,
    Binary,
    Comparison,
    Constant,
    EdgeOf,
    Expression,
    Inverse,
    StageReading,
    TagValue,
)

_NOWHERE = Span("", 1, 1, 1)
_TIMERS = ("on-delay", "off-delay", "pulse", "accumulating on-delay")


@dataclass(frozen=True, slots=True)
class StageMark:
    """Where a stage was seen: `below` its preset, `at` it, `past` it."""

    rung: str
    stage: str
    where: str


#: What a latch remembers: a row of the decision of that number, or a stage's mark.
Latched = tuple[int, Row] | StageMark


@dataclass
class Instrumented:
    """`program` has the latches in it; `latches` says by tag what each of them remembers.

    `exact` are the expressions that stand for a latch's row in a proof.
    """

    program: Program
    decisions: list[Decision] = field(default_factory=list)
    latches: dict[str, Latched] = field(default_factory=dict)


def instrument(program: Program) -> Instrumented:
    """`program` with a latch for every row that stands in a pair, and for every mark of a stage."""
    controller = program.controller
    if controller is None:
        return Instrumented(program)
    work = _Work(controller, Texts(program.sources))
    rungs = tuple(each for rung in controller.rungs for each in work.rung(rung))
    changed = replace(controller, tags={**controller.tags, **work.tags}, rungs=rungs)
    return Instrumented(replace(program, controller=changed), work.decisions, work.latches)


@dataclass
class _Work:
    controller: Controller
    texts: Texts
    decisions: list[Decision] = field(default_factory=list)
    latches: dict[str, Latched] = field(default_factory=dict)
    tags: dict[str, Tag] = field(default_factory=dict)
    count: int = 0

    def rung(self, rung: Rung) -> Iterator[Rung]:
        """The rung cut into pieces, with its latches before each piece."""
        by_part = {decision.part: decision for decision in rung_decisions(rung, self.texts)}
        power: Expression | None = None
        for place, segment in enumerate(segments_of(rung)):
            part = "path" if place == 0 else f"path below `{segment.before.name}`" if segment.before else "path"
            if part in by_part:
                yield from self._latches(by_part[part])
            power = yield from self._piece(rung, place, segment, power)
            if segment.stage is not None:
                yield from self._marks(rung, segment.stage)
        for place, output in enumerate(rung.outputs):
            part = f"when of `{output.target}`"
            if output.when is not None and part in by_part:
                yield from self._latches(by_part.pop(part))
            yield _rung(f"{rung.name}?{place}", (power,) if power is not None else (), output)

    def _piece(
        self, rung: Rung, place: int, segment: Segment, power: Expression | None
    ) -> Generator[Rung, None, Expression]:
        """One segment as a rung of its own that drives a tag; returns that tag's value as the next one's power."""
        tag = self._tag(f"{rung.name}?power{place}", retained=False)
        lines: list[Condition | Stage] = [] if power is None else [Condition(power, rung.span)]
        lines += segment.lines
        if segment.stage is not None:
            lines.append(segment.stage)
        yield Rung(f"{rung.name}?path{place}", None, tuple(lines), (_coil("coil", tag),), rung.span)
        return _value(tag)

    def _latches(self, decision: Decision) -> Iterator[Rung]:
        number = len(self.decisions)
        self.decisions.append(decision)
        contacts = []
        for place, condition in enumerate(decision.conditions):
            tag = self._tag(f"{decision.rung}?{number}?{place}", retained=False)
            contacts.append(_value(tag))
            yield _rung(f"{tag}?", (self._own_slot(condition),), _coil("coil", tag))
        for row in decision.rows:
            tag = self._tag(f"{decision.rung}?{number}?row{len(self.latches)}", retained=True)
            self.latches[tag] = (number, row)
            literals = tuple(c if value else _not(c) for c, value in zip(contacts, row, strict=True))
            yield _rung(f"{tag}?", literals, _coil("set", tag))

    def _own_slot(self, condition: Expression) -> Expression:
        """An edge contact of the latch's own; it looks at the same place and so sees the same edges."""
        if isinstance(condition, EdgeOf):
            self.count += 1
            return replace(condition, slot=f"?{self.count}")
        return condition

    def _marks(self, rung: Rung, stage: Stage) -> Iterator[Rung]:
        for where, lines in self._stage_marks(stage):
            tag = self._tag(f"{stage.name}?{where}", retained=True)
            self.latches[tag] = StageMark(rung.name, stage.name, where)
            yield _rung(f"{tag}?", lines, _coil("set", tag))

    def _stage_marks(self, stage: Stage) -> Iterator[tuple[str, tuple[Expression, ...]]]:
        if stage.preset is None:
            return
        if stage.kind in _TIMERS:
            elapsed = _reading(stage, "elapsed")
            self.count += 1
            reached = _compare(">=", elapsed, stage.preset)
            arrives = EdgeOf(type="bool", span=_NOWHERE, kind="rising", operand=reached, slot=f"?{self.count}")
            tag = self._tag(f"{stage.name}?arrives", retained=False)
            yield "below", (_compare(">", elapsed, _whole(0)), _compare("<", elapsed, stage.preset))
            yield "at", (arrives,)
            self.count += 1
            again = replace(arrives, slot=f"?{self.count}")
            del tag
            yield "past", (reached, _not(again))
        else:
            count = _reading(stage, "count")
            target = stage.preset if stage.kind == "count-up" else _whole(0)
            before = _minus_one(target) if stage.kind == "count-up" else _whole(1)
            yield "below", (_compare("=", count, before),)
            yield "at", (_compare("=", count, target),)
            yield "past", (_compare(">" if stage.kind == "count-up" else "<", count, target),)

    def _tag(self, name: str, retained: bool) -> str:
        self.tags[name] = Tag(name, "memory", "bool", None, 0, 1, False, None, retained, None, _NOWHERE)
        return name


def _rung(name: str, lines: tuple[Expression, ...], output: Output) -> Rung:
    return Rung(name, None, tuple(Condition(line, line.span) for line in lines), (output,), _NOWHERE)


def _coil(kind: str, tag: str) -> Output:
    return Output("set" if kind == "set" else "coil", tag, "tag", None, None, _NOWHERE)


def _value(tag: str) -> Expression:
    return TagValue(type="bool", span=_NOWHERE, tag=tag)


def _not(expression: Expression) -> Expression:
    return Inverse(type="bool", span=_NOWHERE, operand=expression)


def _whole(value: int) -> Expression:
    return Constant(type="int", span=_NOWHERE, low=value, high=value, value=value)


def _compare(operator: Relation, left: Expression, right: Expression) -> Expression:
    return Comparison(type="bool", span=_NOWHERE, operator=operator, left=left, right=right)


def _minus_one(value: Expression) -> Expression:
    return Binary(
        type="int",
        span=_NOWHERE,
        low=value.low - 1,
        high=value.high - 1,
        operator="-",
        left=value,
        right=_whole(1),
    )


def _reading(stage: Stage, what: Literal["elapsed", "count"]) -> Expression:
    high = stage.preset.high if what == "elapsed" and stage.preset is not None else 32767
    low = 0 if what == "elapsed" else -32768
    return StageReading(type="int", span=_NOWHERE, low=low, high=high, stage=stage.name, field=what)


def all_of(parts: tuple[Expression, ...]) -> Expression:
    return AllOf(type="bool", span=_NOWHERE, operands=parts)
