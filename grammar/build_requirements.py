"""Builds the lines of `requirement.lark`."""

from __future__ import annotations

from typing import Literal, cast

from rungproof.grammar import tree
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.building import Part, count_of, time_of
from rungproof.grammar.line_nodes import FormLine, ScopeLine


class RequirementBuilder(ExpressionBuilder):
    """One method per form."""

    def outputs_free(self, parts: list[Part]) -> ScopeLine:
        return ScopeLine(self.place.span(parts[0], parts[-1]), "outputs_free")

    def any_one_fault(self, parts: list[Part]) -> ScopeLine:
        return ScopeLine(self.place.span(parts[0], parts[-1]), "any_one_fault")

    def form(self, parts: list[Part]) -> FormLine:
        from_time = time_of(self.place, parts[1]) if len(parts) > 1 else None
        return FormLine(self.place.span(parts[0], parts[-1]), parts[-1], from_time)

    def never(self, parts: list[Part]) -> tree.Never:
        return tree.Never(self.place.span(parts[0], parts[-1]), parts[1])

    def always(self, parts: list[Part]) -> tree.Always:
        return tree.Always(self.place.span(parts[0], parts[-1]), parts[1])

    def whenever(self, parts: list[Part]) -> tree.Whenever:
        span = self.place.span(parts[0], parts[-1])
        if len(parts) == 4:
            return tree.Whenever(span, parts[1], parts[3], "at once")
        mode = cast("Literal['within', 'for']", str(parts[4]))
        return tree.Whenever(span, parts[1], parts[3], mode, time_of(self.place, parts[5]))

    def stood(self, parts: list[Part]) -> tree.Stood:
        return tree.Stood(self.place.span(parts[0], parts[-1]), parts[1], time_of(self.place, parts[5]), parts[7])

    def after_never(self, parts: list[Part]) -> tree.AfterNever:
        return tree.AfterNever(self.place.span(parts[0], parts[-1]), parts[1], parts[3], parts[5])

    def at_most(self, parts: list[Part]) -> tree.AtMost:
        count = count_of(self.place, parts[2])
        assert isinstance(count, tree.Number)
        return tree.AtMost(self.place.span(parts[0], parts[-1]), count, parts[3], time_of(self.place, parts[6]))

    def before(self, parts: list[Part]) -> tree.Before:
        return tree.Before(self.place.span(parts[0], parts[-1]), parts[0], parts[2])
