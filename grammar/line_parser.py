"""One lark parser per kind of line, made on first use and kept."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Literal

from lark import Lark
from lark.visitors import merge_transformers
from rungproof.grammar.build_expressions import ExpressionBuilder
from rungproof.grammar.build_headers import HeaderBuilder
from rungproof.grammar.build_paths import PathBuilder
from rungproof.grammar.build_plant import PartBuilder, TagBuilder, WiringBuilder
from rungproof.grammar.build_requirements import RequirementBuilder
from rungproof.grammar.build_scenarios import ExclusionBuilder, ScenarioBuilder
from rungproof.grammar.building import Part, Place

LineKind = Literal["header", "tag", "path", "part", "wiring", "hazard", "requirement", "assume", "exclude", "scenario"]

BUILDERS: dict[LineKind, type[ExpressionBuilder]] = {
    "header": HeaderBuilder,
    "tag": TagBuilder,
    "path": PathBuilder,
    "part": PartBuilder,
    "wiring": WiringBuilder,
    "hazard": PathBuilder,
    "requirement": RequirementBuilder,
    "assume": PathBuilder,
    "exclude": ExclusionBuilder,
    "scenario": ScenarioBuilder,
}


class LineParser:
    """Reads one line of its kind. Not to be used by two threads at once: see `LOCK`."""

    def __init__(self, kind: LineKind) -> None:
        self.kind = kind
        self.place = Place()
        merge: Callable[..., ExpressionBuilder] = merge_transformers
        builder = merge(BUILDERS[kind](self.place), expression=ExpressionBuilder(self.place))
        self.lark = Lark.open(
            str(grammar_path(kind)),
            parser="lalr",
            lexer="contextual",
            transformer=builder,
            maybe_placeholders=False,
        )

    def parse(self, text: str) -> Part:
        """The line's node. Raises lark's `UnexpectedInput` where the line does not fit."""
        return self.lark.parse(text)


def grammar_path(name: str) -> Path:
    return Path(__file__).parent / f"{name}.lark"


@cache
def line_parser(kind: LineKind) -> LineParser:
    return LineParser(kind)


#: Parsers know the line they read; one thread at a time goes through them.
LOCK = threading.Lock()
