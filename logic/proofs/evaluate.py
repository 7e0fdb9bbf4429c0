"""A Step run on plain values, by the operators' own plain functions: the meaning that proofs go by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import OPERATORS, Scalar
from rungproof.logic.steps.step import Step


def values_of(nodes: Iterable[Node], variables: Mapping[str, Scalar]) -> dict[Node, Scalar]:
    """The value of each node and of all that it needs. Raises `KeyError` for a variable without one."""
    found: dict[Node, Scalar] = {}
    for node in ordered(nodes):
        if node.operator == "constant":
            found[node] = node.value
        elif node.operator == "variable":
            found[node] = variables[node.name]
        else:
            found[node] = OPERATORS[node.operator].plain(*(found[each] for each in node.operands))
    return found


def transition(
    step: Step, state: Mapping[str, Scalar], given: Mapping[str, Scalar]
) -> tuple[dict[str, Scalar], dict[str, Scalar]]:
    """One transition: the state after it, and the outputs during it."""
    found = values_of(step.nodes, {**given, **state})
    after = {name: found[step.next[name]] if name in step.next else state[name] for name in step.states}
    return after, {name: found[node] for name, node in step.outputs.items()}
