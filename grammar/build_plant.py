"""Builds the lines of `tag.lark`, `part.lark` and `wiring.lark`."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal, cast

from lark import Token
from rungproof.grammar import tree
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.building import Part, new_name, number_of, text_of
from rungproof.grammar.trade_words import kept_here
from rungproof.grammar.tree import Span


@dataclass(frozen=True, slots=True)
class _Attribute:
    """What a tag line says beyond role and type: `words` as they stand in messages."""

    field: str
    words: str
    value: Any
    token: Token


class TagBuilder(ExpressionBuilder):
    """A line of `tags`."""

    def starting(self, parts: list[Part]) -> _Attribute:
        return _Attribute("start", "= start value", parts[1], parts[0])

    def stopping(self, parts: list[Part]) -> _Attribute:
        return _Attribute("on_stop", "on stop", parts[2], parts[0])

    def hold(self, parts: list[Part]) -> tree.Name:
        return tree.Name(self.place.span(parts[0], parts[0]), "hold")

    def retained(self, parts: list[Part]) -> _Attribute:
        return _Attribute("retained", "retained", True, parts[0])

    def remark(self, parts: list[Part]) -> _Attribute:
        return _Attribute("remark", "a remark", text_of(parts[0]), parts[0])

    def tag_line(self, parts: list[Part]) -> tree.TagLine:
        fields: dict[str, Any] = {}
        for part in parts:
            if not isinstance(part, _Attribute):
                continue
            if part.field in fields:
                self.place.report("said-twice", part.token, what=part.words)
            fields[part.field] = part.value
        unit = next((part for part in parts if isinstance(part, Token) and part.type == "UNIT"), None)
        kept = kept_here(unit) if unit is not None else None
        if kept is not None:
            self.place.report("trade-word", unit, found=str(unit), instead=kept)
            unit, fields["retained"] = None, True
        last = parts[-1].value if isinstance(parts[-1], _Attribute) else parts[-1]
        if not hasattr(last, "span"):
            last = parts[-1].token if isinstance(parts[-1], _Attribute) else parts[-1]
        return tree.TagLine(
            self.place.span(parts[0], last),
            new_name(self.place, parts[0]),
            cast("Literal['input', 'output', 'memory', 'parameter']", str(parts[1])),
            cast("Literal['bool', 'int', 'real']", str(parts[2])),
            unit=None if unit is None else str(unit),
            range=next((part for part in parts if isinstance(part, tree.Interval)), None),
            **fields,
        )


class PartBuilder(ExpressionBuilder):
    """A line of `plant`."""

    def word(self, parts: list[Part]) -> tree.Word:
        return tree.Word(self.place.span(parts[0], parts[0]), str(parts[0]))

    def text(self, parts: list[Part]) -> tree.Text:
        return tree.Text(self.place.span(parts[0], parts[0]), text_of(parts[0]))

    def quantity(self, parts: list[Part]) -> tree.Number:
        return number_of(self.place, parts[0])

    def bounds(self, parts: list[Part]) -> tree.Interval:
        return tree.Interval(self.place.span(parts[0], parts[2]), parts[0], parts[2])

    def clause(self, parts: list[Part]) -> tree.Clause:
        return tree.Clause(self.place.span(parts[0], parts[-1]), tuple(parts))

    def part_line(self, parts: list[Part]) -> tree.PartLine:
        clauses = tuple(part for part in parts if isinstance(part, tree.Clause))
        for before, after in pairwise(clauses):
            self._check_comma(before, after)
        return tree.PartLine(
            self.place.span(parts[0], parts[-1]), str(parts[0]), new_name(self.place, parts[1]), clauses
        )

    def _check_comma(self, before: tree.Clause, after: tree.Clause) -> None:
        """`lag 0,4 s` reads as two clauses; what was meant is `0.4 s`."""
        whole, part = before.items[-1], after.items[0]
        touching = after.span.column - before.span.end_column == 1
        if touching and isinstance(whole, tree.Number) and isinstance(part, tree.Number) and whole.unit is None:
            found = Span(self.place.file, self.place.line, whole.span.column, part.span.end_column)
            both = f"{whole.text},{part.text}"
            self.place.reporter.report("decimal-comma", found, found=both, whole=whole.text, part=part.text)


class WiringBuilder(ExpressionBuilder):
    """A line of `wiring`."""

    def feed(self, parts: list[Part]) -> tree.FeedLine:
        module = str(parts[1]) if len(parts) > 3 else None
        what = cast("Literal['controller', 'inputs', 'outputs']", str(parts[0]))
        return tree.FeedLine(self.place.span(parts[0], parts[-1]), what, module, parts[-1])

    def wire(self, parts: list[Part]) -> tree.WireLine:
        intervals = [part for part in parts if isinstance(part, tree.Interval)]
        ends = {
            str(word): end for word, end in pairwise(parts) if isinstance(word, Token) and isinstance(end, tree.Name)
        }
        return tree.WireLine(
            self.place.span(parts[0], parts[-1]),
            parts[0],
            str(parts[2]),
            signal=intervals[0] if intervals else None,
            counts=intervals[1] if len(intervals) > 1 else None,
            source=ends.get("from"),
            target=ends.get("to"),
        )
