"""What could not be drawn as contacts is refused, with the form that means the same."""

from __future__ import annotations

from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.building import Place
from rungproof.grammar.expression_text import expression_text

_Sign = Literal["<", "<=", ">", ">=", "=", "<>"]
_OPPOSITE: dict[_Sign, _Sign] = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>", "<>": "="}
_BRANCHING = frozenset({"else", "endif", "end_if", "end_rung"})
_MAKE_CONTACTS = (tree.Parallel, tree.Series, tree.Compare, tree.Between, tree.Not)


def check_path_line(place: Place, line: tree.Condition | tree.Stage | tree.Output) -> bool:
    """Report what of a rung's line could not be drawn. False if the line is no condition at all."""
    if isinstance(line, tree.Condition):
        if isinstance(line.expression, tree.Name) and line.expression.text.lower() in _BRANCHING:
            place.report("branching-word", line, found=line.expression.text)
            return False
        check_drawable(place, line.expression, whole_line=True)
    elif isinstance(line, tree.Output) and line.when is not None:
        check_drawable(place, line.when)
    return True


def check_drawable(place: Place, expression: tree.Expression, whole_line: bool = False) -> None:
    """Report each `not (...)` over more than one contact, and each edge of a group.

    Such groups are no contacts: nothing drawn stands for them. `whole_line` says that the
    expression is a line of a path, so that its series form can go on several lines.
    """
    waiting: list[tuple[tree.Expression, bool]] = [(expression, whole_line)]
    while waiting:
        node, alone = waiting.pop()
        match node:
            case tree.Not():
                inner = _ungrouped(node.operand)
                if isinstance(inner, _MAKE_CONTACTS):
                    place.report("not-of-group", node, form=_series_form(inner, alone))
                else:
                    waiting.append((inner, False))
            case tree.Edge():
                inner = _ungrouped(node.operand)
                if not isinstance(inner, tree.Name):
                    mend = "falling" if node.kind == "rising" else "rising"
                    place.report("edge-of-group", node, kind=node.kind, other=mend)
            case tree.Series() | tree.Parallel():
                waiting.extend((operand, False) for operand in node.operands)
            case tree.Group():
                waiting.append((node.inner, alone))
            case _:
                pass


def _ungrouped(node: tree.Expression) -> tree.Expression:
    while isinstance(node, tree.Group):
        node = node.inner
    return node


def _series_form(inner: tree.Expression, alone: bool) -> str:
    opposite = negated(inner)
    if alone and isinstance(opposite, tree.Series):
        lines = ", then ".join(f"`{expression_text(operand)}`" for operand in opposite.operands)
        return f"{lines}, each on its own line"
    text = expression_text(opposite)
    grouped = isinstance(opposite, (tree.Series, tree.Parallel)) and not alone
    return f"`({text})`" if grouped else f"`{text}`"


def negated(node: tree.Expression) -> tree.Expression:
    """What is true exactly where the node is false, with `not` on single contacts only."""
    span = node.span
    match node:
        case tree.Group():
            return negated(node.inner)
        case tree.Not():
            return _ungrouped(node.operand)
        case tree.Truth():
            return tree.Truth(span, not node.value)
        case tree.Series():
            return tree.Parallel(span, tuple(_grouped(negated(operand)) for operand in node.operands))
        case tree.Parallel():
            return tree.Series(span, tuple(_grouped(negated(operand)) for operand in node.operands))
        case tree.Compare():
            opposite = _OPPOSITE[node.operator]
            return tree.Compare(span, opposite, node.left, node.right)
        case tree.Between():
            below = tree.Compare(span, "<", node.value, node.low)
            above = tree.Compare(span, ">", node.value, node.high)
            return tree.Parallel(span, (below, above))
        case _:
            return tree.Not(span, node)


def _grouped(node: tree.Expression) -> tree.Expression:
    return tree.Group(node.span, node) if isinstance(node, (tree.Series, tree.Parallel)) else node
