"""Tree to text: canonical, and already as the formatter would leave it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rungproof.grammar import tree
from rungproof.grammar.columns import Row, lay_out
from rungproof.grammar.expression_text import expression_text
from rungproof.grammar.line_nodes import AssumptionLine, FormLine, ScopeLine
from rungproof.grammar.line_text import cells_of, family_of, header_cells

_BLOCKS = (
    tree.Use,
    tree.Controller,
    tree.Tags,
    tree.Rung,
    tree.Plant,
    tree.Circuit,
    tree.Wiring,
    tree.Hazard,
    tree.Requirement,
    tree.Assume,
    tree.Exclude,
    tree.Scenario,
)
_EXPRESSIONS = (
    tree.Number,
    tree.Truth,
    tree.Name,
    tree.Not,
    tree.Edge,
    tree.Series,
    tree.Parallel,
    tree.Group,
    tree.Compare,
    tree.Between,
    tree.Arithmetic,
    tree.Negate,
    tree.Call,
    tree.Interval,
    tree.Point,
)


def to_text(node: Any) -> str:
    """The text of a file, a block, a line or an expression.

    Files and blocks end in a line feed; lines and expressions are one line without one.
    Reading the text back gives the node again, but for parentheses that a tree built by
    hand left out. Quotes and line feeds inside a sentence become `'` and blanks.
    """
    if isinstance(node, tree.SourceFile):
        return lay_out(list(_file_rows(node)))
    if isinstance(node, _BLOCKS):
        return lay_out(list(block_rows(node, 0)))
    if isinstance(node, _EXPRESSIONS):
        return expression_text(node)
    return lay_out([line_row(node, 0, 0)]).rstrip("\n")


def line_row(node: Any, block: int, depth: int) -> Row:
    """One line inside a block, or a header, as a row."""
    return Row(block, depth, family_of(node), cells_of(node))


def block_rows(node: tree.Block, block: int) -> Iterator[Row]:
    """A block's rows, its header first."""
    word = type(node).__name__.lower()
    family = "hazard" if word == "hazard" else "header"
    yield Row(block, 0, family, header_cells(word, node))
    match node:
        case tree.Tags() | tree.Wiring() | tree.Scenario() | tree.Exclude():
            lines: tuple[Any, ...] = node.lines
        case tree.Plant():
            lines = node.parts
        case tree.Rung():
            lines = (*node.elements, *node.outputs)
        case tree.Circuit():
            yield from _circuit_rows(node, block)
            return
        case tree.Requirement():
            lines = tuple(_requirement_lines(node))
        case tree.Assume():
            lines = (AssumptionLine(node.span, node.condition),)
        case _:
            lines = ()
    for line in lines:
        yield line_row(line, block, 1)


def _circuit_rows(node: tree.Circuit, block: int) -> Iterator[Row]:
    for rung in node.rungs:
        yield Row(block, 1, "header", header_cells("rung", rung))
        for line in (*rung.elements, *rung.outputs):
            yield line_row(line, block, 2)


def _requirement_lines(node: tree.Requirement) -> Iterator[ScopeLine | FormLine]:
    if node.outputs_free:
        yield ScopeLine(node.span, "outputs_free")
    if node.any_one_fault:
        yield ScopeLine(node.span, "any_one_fault")
    yield FormLine(node.span, node.form, node.from_time)


def _file_rows(node: tree.SourceFile) -> Iterator[Row]:
    """Blocks with a blank line between them; hazards, and `use` lines, stand close together."""
    before: tree.Block | None = None
    for number, block in enumerate(node.blocks):
        close = isinstance(block, (tree.Hazard, tree.Use)) and type(block) is type(before)
        if before is not None and not close:
            yield Row(number, 0, "blank")
        yield from block_rows(block, number)
        before = block
