"""Builds the lines of `scenario.lark` and of `exclude.lark`."""

from __future__ import annotations

from typing import Any, Literal, cast

from rungproof.grammar import tree
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.building import Part, time_of


class ScenarioBuilder(ExpressionBuilder):
    """A scenario's lines."""

    def word(self, parts: list[Part]) -> tree.Word:
        return tree.Word(self.place.span(parts[0], parts[0]), str(parts[0]))

    def terminal(self, parts: list[Part]) -> tree.Name:
        return tree.Name(self.place.span(parts[0], parts[0]), str(parts[0]))

    controller = terminal

    def lasting(self, parts: list[Part]) -> tuple[tree.Number]:
        time_of(self.place, parts[1])
        return (parts[1],)

    def at(self, parts: list[Part]) -> tree.At:
        time_of(self.place, parts[1])
        duration = parts[-1][0] if isinstance(parts[-1], tuple) else None
        rest = parts[4:-1] if duration else parts[4:]
        action = cast("Any", str(parts[2]))
        last = duration or parts[-1]
        return tree.At(self.place.span(parts[0], last), parts[1], action, parts[3], rest[0] if rest else None, duration)

    def parameter(self, parts: list[Part]) -> tree.ParameterLine:
        return tree.ParameterLine(self.place.span(parts[0], parts[-1]), parts[1], parts[3])

    def scans(self, parts: list[Part]) -> tree.ScansLine:
        lengths = tuple(part for part in parts if isinstance(part, tree.Number))
        for length in lengths:
            time_of(self.place, length)
        return tree.ScansLine(self.place.span(parts[0], parts[-1]), lengths)

    def noise(self, parts: list[Part]) -> tree.NoiseLine:
        return tree.NoiseLine(self.place.span(parts[0], parts[-1]), int(parts[2]), int(parts[4]))

    def ends(self, parts: list[Part]) -> tree.EndsLine:
        time_of(self.place, parts[2])
        return tree.EndsLine(self.place.span(parts[0], parts[-1]), parts[2])

    def expect(self, parts: list[Part]) -> tree.Expect:
        span = self.place.span(parts[0], parts[-1])
        if len(parts) == 2:
            return tree.Expect(span, parts[1], "at end")
        time_of(self.place, parts[3])
        return tree.Expect(span, parts[1], cast("Literal['within', 'for']", str(parts[2])), parts[3])


class ExclusionBuilder(ScenarioBuilder):
    """The lines of `exclude.lark`."""

    def excluded(self, parts: list[Part]) -> tree.ExcludedFault:
        target = parts[1] if isinstance(parts[1], tree.Name) else None
        return tree.ExcludedFault(self.place.span(parts[0], parts[2]), target, parts[2])
