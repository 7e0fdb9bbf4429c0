"""Lines that are no nodes of the tree of their own: they become fields of their block."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from rungproof.grammar import tree
from rungproof.grammar.tree import Span


@dataclass(frozen=True, slots=True)
class Header:
    """A block's first line. `fields` are those of the block's tree class that it gives."""

    span: Span
    word: str
    fields: dict[str, Any]


@dataclass(frozen=True, slots=True)
class SafeLine:
    """A hazard's `safe state ...` on a line of its own."""

    span: Span
    expression: tree.Expression


@dataclass(frozen=True, slots=True)
class AssumptionLine:
    """The condition of an `assume`."""

    span: Span
    expression: tree.Expression


@dataclass(frozen=True, slots=True)
class ScopeLine:
    """`with outputs free` or `even with any one fault`."""

    span: Span
    scope: Literal["outputs_free", "any_one_fault"]


@dataclass(frozen=True, slots=True)
class FormLine:
    """`from T`, where it is written, and the form."""

    span: Span
    form: tree.Form
    from_time: tree.Number | tree.Name | None = None
