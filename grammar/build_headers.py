"""Builds the lines of `header.lark`: the words that open a block."""

from __future__ import annotations

from typing import Any

from rungproof.grammar import tree
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.building import Part, new_name, text_of, time_of
from rungproof.grammar.line_nodes import Header


class HeaderBuilder(ExpressionBuilder):
    """One method per block word."""

    def _header(self, parts: list[Part], **fields: Any) -> Header:
        return Header(self.place.span(parts[0], parts[-1]), str(parts[0]), fields)

    def _times(self, every: tree.Number | tree.Interval) -> None:
        if isinstance(every, tree.Number):
            time_of(self.place, every, ("ms",))
        elif isinstance(every.high, tree.Number):
            time_of(self.place, every.high, ("ms",))

    def use(self, parts: list[Part]) -> Header:
        return self._header(parts, file=text_of(parts[1]))

    def controller(self, parts: list[Part]) -> Header:
        self._times(parts[3])
        return self._header(parts, name=text_of(parts[1]), every=parts[3])

    def tags(self, parts: list[Part]) -> Header:
        return self._header(parts)

    wiring = tags

    def rung(self, parts: list[Part]) -> Header:
        remark = text_of(parts[2]) if len(parts) > 2 else None
        return self._header(parts, name=new_name(self.place, parts[1]), remark=remark)

    def plant(self, parts: list[Part]) -> Header:
        self._times(parts[3])
        parts_from = text_of(parts[6]) if len(parts) > 6 else None
        return self._header(parts, name=text_of(parts[1]), every=parts[3], parts_from=parts_from)

    def circuit(self, parts: list[Part]) -> Header:
        return self._header(parts, name=text_of(parts[1]), supply=parts[3])

    def hazard(self, parts: list[Part]) -> Header:
        safe_state = parts[5] if len(parts) > 5 else None
        return self._header(
            parts, name=new_name(self.place, parts[1]), sentence=text_of(parts[2]), safe_state=safe_state
        )

    def requirement(self, parts: list[Part]) -> Header:
        against = tuple(part for part in parts if isinstance(part, tree.Name))
        return self._header(parts, name=new_name(self.place, parts[1]), sentence=text_of(parts[2]), against=against)

    def assume(self, parts: list[Part]) -> Header:
        return self._header(parts, sentence=text_of(parts[1]))

    exclude = scenario = assume
