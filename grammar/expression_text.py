"""Expressions as canonical text. Parentheses come from `Group`, and where a tree needs them."""

from __future__ import annotations

from typing import assert_never

from rungproof.grammar import tree

_PARALLEL, _SERIES, _NOT, _COMPARISON, _SUM, _PRODUCT, _UNARY, _ATOM = range(8)


def expression_text(node: tree.Expression | tree.Interval | tree.Point) -> str:
    """What the node says, as one would write it."""
    match node:
        case tree.Number():
            return node.text if node.unit is None else f"{node.text} {node.unit}"
        case tree.Truth():
            return "on" if node.value else "off"
        case tree.Name():
            return node.text
        case tree.Not():
            return f"not {_held(node.operand, _NOT)}"
        case tree.Edge():
            return f"{node.kind} {_held(node.operand, _ATOM)}"
        case tree.Series():
            return " and ".join(_held(operand, _NOT) for operand in node.operands)
        case tree.Parallel():
            return " or ".join(_held(operand, _SERIES) for operand in node.operands)
        case tree.Group():
            return f"({expression_text(node.inner)})"
        case tree.Compare():
            return f"{_held(node.left, _SUM)} {node.operator} {_held(node.right, _SUM)}"
        case tree.Between():
            return f"{_held(node.value, _SUM)} between {_held(node.low, _SUM)} and {_held(node.high, _SUM)}"
        case tree.Arithmetic():
            level = _level(node)
            return f"{_held(node.left, level)} {node.operator} {_held(node.right, level + 1)}"
        case tree.Negate():
            return f"-{_held(node.operand, _UNARY)}"
        case tree.Interval():
            return f"{_held(node.low, _SUM)}..{_held(node.high, _SUM)}"
        case tree.Point():
            return f"{_held(node.x, _SUM)}: {_held(node.y, _SUM)}"
        case tree.Call():
            naming = f" as {node.name}" if node.name is not None else ""
            arguments = ", ".join(_argument(node.function, argument) for argument in node.arguments)
            return f"{node.function}({arguments}){naming}"
    assert_never(node)


def _argument(function: str, argument: tree.Argument) -> str:
    text = expression_text(argument.value)
    if argument.keyword is not None:
        return f"{argument.keyword} = {text}"
    value = argument.value
    looks_like_keyword = isinstance(value, tree.Compare) and value.operator == "=" and isinstance(value.left, tree.Name)
    return f"({text})" if looks_like_keyword and function != "select" else text


def _level(node: tree.Expression) -> int:
    """How tightly a node holds together: a looser one inside a tighter one needs parentheses."""
    match node:
        case tree.Parallel():
            return _PARALLEL
        case tree.Series():
            return _SERIES
        case tree.Not():
            return _NOT
        case tree.Compare() | tree.Between() | tree.Edge():
            return _COMPARISON
        case tree.Arithmetic():
            return _SUM if node.operator in "+-" else _PRODUCT
        case tree.Negate():
            return _UNARY
        case _:
            return _ATOM


def _held(node: tree.Expression, least: int) -> str:
    text = expression_text(node)
    return text if _level(node) >= least else f"({text})"
