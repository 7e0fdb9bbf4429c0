"""What all line builders share: the place of the line, and spans from tokens and nodes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from lark import Token
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Name, Number, Span

#: What stands between a rule's builder and its parts: a token, or a node already built.
Part = Any

#: Characters of a number. More digits than any sensor has, and few enough to be worked with exactly.
LONGEST_NUMBER = 40

_NUMBER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+(?![A-Za-z0-9_]))?)[ \t]*(.*)", re.DOTALL)


@dataclass(slots=True)
class Place:
    """The line being read. One `Place` serves all builders of one parser."""

    file: str = ""
    line: int = 0
    reporter: Reporter = field(default_factory=lambda: Reporter({}))

    def span(self, first: Part, last: Part) -> Span:
        return Span(self.file, self.line, column_of(first), end_of(last))

    def report(self, code: str, at: Part, **fields: Any) -> None:
        self.reporter.report(code, self.span(at, at), **fields)


def column_of(part: Part) -> int:
    if isinstance(part, Token):
        return int(part.start_pos or 0) + 1
    return int(part.span.column)


def end_of(part: Part) -> int:
    if isinstance(part, Token):
        return int(part.end_pos or 0) + 1
    return int(part.span.end_column)


def number_of(place: Place, token: Token) -> Number:
    """`2827 cm2` as a `Number`: the figure and the unit, the blanks between them dropped."""
    matched = _NUMBER.fullmatch(token)
    if matched is None:
        raise AssertionError(f"the grammar let {token!r} pass as a number")
    figure, unit = matched.groups()
    if len(figure) > LONGEST_NUMBER:
        place.report("number-too-long", token, length=len(figure), limit=LONGEST_NUMBER)
        figure = figure[:LONGEST_NUMBER]
    return Number(place.span(token, token), figure, unit or None)


def text_of(token: Token) -> str:
    """What stands between the quotes."""
    return str(token)[1:-1]


def new_name(place: Place, token: Token) -> str:
    """A name that this line brings into the world: it has no dots."""
    if "." in token:
        place.report("dotted-name", token, name=str(token), plain=str(token).replace(".", "_"))
    return str(token)


def time_of(place: Place, node: Number | Name, units: tuple[str, ...] = ("s", "ms")) -> Number | Name:
    """A time stands with its unit, likely one of `units`; a bare name must be a parameter, which meaning checks."""
    if isinstance(node, Number) and node.unit is None:
        written = " or ".join(f"`{node.text} {unit}`" for unit in units)
        place.report("time-without-unit", node, figure=node.text, written=written)
    return node


def count_of(place: Place, node: Number | Name) -> Number | Name:
    """A count stands without unit."""
    if isinstance(node, Number) and node.unit is not None:
        place.report("count-with-unit", node, figure=node.text, unit=node.unit)
    return node
