"""The decisions of a program: each path of a rung up to a stage or to its end, and each `when`.

The conditions of a decision are its contacts: a tag, an edge, a comparison, a stage's output. The
output of a stage begins the decision below it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from rungproof.grammar.source import split_lines
from rungproof.grammar.tree import Span
from rungproof.logic.coverage.pairs import MOST_CONDITIONS, Pair, Row, rows_of, unique_cause_pairs
from rungproof.logic.meaning.program import Condition, Program, Rung, SourceText, Stage
from rungproof.logic.meaning.typed import AllOf, AnyOf, Constant, EdgeOf, Expression, Inverse, StageOutput


@dataclass(frozen=True)
class Decision:
    """`part` says which of a rung's decisions it is: `path`, `path 2` (below a stage), `when PLACE`.

    `conditions` are the different contacts, with `names` as the file writes them; `whole` is what
    they decide, None for nothing but power.
    """

    rung: str
    part: str
    whole: Expression
    conditions: tuple[Expression, ...]
    names: tuple[str, ...]
    span: Span = field(compare=False, repr=False)

    @property
    def label(self) -> str:
        return f"{self.rung}, {self.part}"

    def outcome(self, row: Row) -> bool:
        """What the decision gives for one value of each condition."""
        return _value(self.whole, dict(zip(self.conditions, row, strict=True)))

    @property
    def wide(self) -> bool:
        """Whether it has too many conditions for all its rows."""
        return len(self.conditions) > MOST_CONDITIONS

    @cached_property
    def pairs(self) -> tuple[tuple[Pair, ...], ...]:
        """For each condition its unique-cause pairs; of a wide decision one of them, at most."""
        if not self.wide:
            return unique_cause_pairs(self.outcome, len(self.conditions))
        return tuple(self._canonical(place) for place in range(len(self.conditions)))

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        return rows_of(self.pairs)

    def _canonical(self, place: int) -> tuple[Pair, ...]:
        """The pair in which contacts in series with the condition conduct, and branches beside it do not."""
        values = dict.fromkeys(self.conditions, False)
        _open_way(self.whole, self.conditions[place], values)
        off, on = (
            tuple({**values, self.conditions[place]: value}[c] for c in self.conditions) for value in (False, True)
        )
        return ((off, on),) if self.outcome(off) != self.outcome(on) else ()


def conditions_of(expression: Expression) -> tuple[Expression, ...]:
    """The different contacts of an expression, in the order in which they stand."""
    match expression:
        case AllOf() | AnyOf():
            found = [c for operand in expression.operands for c in conditions_of(operand)]
        case Inverse():
            found = list(conditions_of(expression.operand))
        case Constant():
            found = []
        case _:
            found = [contact(expression)]
    return tuple(dict.fromkeys(found))


def contact(expression: Expression) -> Expression:
    """A contact as a condition: two edge contacts of one kind on one tag are the same condition."""
    return replace(expression, slot="") if isinstance(expression, EdgeOf) else expression


def _value(expression: Expression, values: dict[Expression, bool]) -> bool:
    match expression:
        case AllOf():
            return all(_value(operand, values) for operand in expression.operands)
        case AnyOf():
            return any(_value(operand, values) for operand in expression.operands)
        case Inverse():
            return not _value(expression.operand, values)
        case Constant():
            return bool(expression.value)
        case _:
            return values[contact(expression)]


def _open_way(expression: Expression, wanted: Expression, values: dict[Expression, bool]) -> None:
    """Give the other contacts the values with which `wanted` decides."""
    match expression:
        case AllOf() | AnyOf():
            for operand in expression.operands:
                if wanted in conditions_of(operand):
                    _open_way(operand, wanted, values)
                else:
                    _make(operand, isinstance(expression, AllOf), values)
        case Inverse():
            _open_way(expression.operand, wanted, values)
        case _:
            pass


def _make(expression: Expression, value: bool, values: dict[Expression, bool]) -> None:
    match expression:
        case AllOf() | AnyOf():
            for operand in expression.operands:
                _make(operand, value, values)
        case Inverse():
            _make(expression.operand, not value, values)
        case Constant():
            pass
        case _:
            values[contact(expression)] = value


# --------------------------------------------------------------------- of a rung


@dataclass(frozen=True, slots=True)
class Segment:
    """The lines of a path between two stages: `before` is the stage it begins with, `stage` the one it ends in."""

    before: Stage | None
    lines: tuple[Condition, ...]
    stage: Stage | None


def segments_of(rung: Rung) -> list[Segment]:
    """A path cut after each stage; the last one has no stage."""
    found: list[Segment] = []
    lines: list[Condition] = []
    before: Stage | None = None
    for element in rung.elements:
        if isinstance(element, Stage):
            found.append(Segment(before, tuple(lines), element))
            lines, before = [], element
        else:
            lines.append(element)
    return [*found, Segment(before, tuple(lines), None)]


def decisions_of(program: Program) -> list[Decision]:
    """Every decision with a condition, in the order of the rungs."""
    texts = Texts(program.sources)
    controller = program.controller
    return [each for rung in (controller.rungs if controller else ()) for each in rung_decisions(rung, texts)]


def rung_decisions(rung: Rung, texts: Texts) -> list[Decision]:
    """The decisions of one rung: of its path first, then of its `when`s."""
    found = []
    for place, segment in enumerate(segments_of(rung)):
        whole = segment_whole(segment)
        # the stage's output alone, with no line below it, decides nothing further
        if conditions_of(whole) and (segment.lines or segment.before is None):
            part = "path" if place == 0 else f"path below `{segment.before.name}`" if segment.before else "path"
            found.append(_decision(rung, part, whole, texts, rung.span))
    for output in rung.outputs:
        if output.when is not None and conditions_of(output.when):
            part = f"when of `{output.target}`"
            found.append(_decision(rung, part, output.when, texts, output.span))
    return found


def segment_whole(segment: Segment) -> Expression:
    """What the lines of a segment, and the output of the stage above it, decide together."""
    span = segment.lines[0].span if segment.lines else segment.before.span if segment.before else Span("", 1, 1, 1)
    parts: list[Expression] = [line.expression for line in segment.lines]
    if segment.before is not None:
        parts.insert(0, StageOutput(type="bool", span=segment.before.span, stage=segment.before.name))
    return AllOf(type="bool", span=span, operands=tuple(parts))


def _decision(rung: Rung, part: str, whole: Expression, texts: Texts, span: Span) -> Decision:
    conditions = conditions_of(whole)
    return Decision(rung.name, part, whole, conditions, tuple(texts.of(each) for each in conditions), span)


class Texts:
    """The text that a contact has in its file."""

    def __init__(self, sources: Sequence[SourceText] | Iterable[SourceText]) -> None:
        self._lines = {source.path: split_lines(source.text) for source in sources}

    def of(self, expression: Expression) -> str:
        if isinstance(expression, StageOutput):
            return expression.stage
        span = expression.span
        lines = self._lines.get(span.file, [])
        text = lines[span.line - 1][span.column - 1 : span.end_column - 1] if 0 < span.line <= len(lines) else ""
        return " ".join(text.split()) or type(expression).__name__
