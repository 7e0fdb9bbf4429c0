"""Builds the lines of `path.lark`, of `assume.lark` and of `hazard.lark`."""

from __future__ import annotations

from typing import cast

from lark import Token
from rungproof.grammar import tree
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.building import Part, count_of, new_name, time_of
from rungproof.grammar.line_nodes import AssumptionLine, SafeLine


class PathBuilder(ExpressionBuilder):
    """A rung's lines."""

    def condition(self, parts: list[Part]) -> tree.Condition:
        return tree.Condition(parts[0].span, parts[0])

    def assumption(self, parts: list[Part]) -> AssumptionLine:
        return AssumptionLine(parts[0].span, parts[0])

    def safe_state(self, parts: list[Part]) -> SafeLine:
        return SafeLine(self.place.span(parts[0], parts[-1]), parts[-1])

    def stage(self, parts: list[Part]) -> tree.Stage:
        span = self.place.span(parts[0], parts[-1])
        kind = cast("tree.StageKind", " ".join(str(parts[0]).split()))
        if kind == "rising":
            return tree.Stage(span, kind, new_name(self.place, parts[2]))
        check = count_of if kind.startswith("count") else time_of
        tail = parts[4:]
        return tree.Stage(
            span,
            kind,
            new_name(self.place, parts[3]),
            preset=check(self.place, parts[1]),
            by=next((part for part in tail if isinstance(part, tree.Name)), None),
            retained=any(isinstance(part, Token) and part.type == "RETAINED" for part in tail),
        )

    def coil(self, parts: list[Part]) -> tree.Output:
        return tree.Output(parts[0].span, "coil", parts[0])

    def negated(self, parts: list[Part]) -> tree.Output:
        return tree.Output(parts[-1].span, "negated", parts[1])

    def set(self, parts: list[Part]) -> tree.Output:
        return tree.Output(parts[-1].span, "set", parts[1])

    def reset(self, parts: list[Part]) -> tree.Output:
        return tree.Output(parts[-1].span, "reset", parts[1])

    def assign(self, parts: list[Part]) -> tree.Output:
        return tree.Output(parts[-1].span, "assign", parts[0], value=parts[2])

    def output(self, parts: list[Part]) -> tree.Output:
        made: tree.Output = parts[1]
        when = parts[3] if len(parts) > 2 else None
        return tree.Output(self.place.span(parts[0], parts[-1]), made.kind, made.target, made.value, when)
