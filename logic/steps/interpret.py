"""A Step run by its operators' plain meaning, one step at a time: slow, and nothing to get wrong."""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import OPERATORS, Scalar
from rungproof.logic.steps.step import Step


def start(step: Step) -> dict[str, Scalar]:
    """The state before the first step."""
    return {name: each.start for name, each in step.states.items()}


def advance(
    step: Step, state: Mapping[str, Scalar], inputs: Mapping[str, Scalar]
) -> tuple[dict[str, Scalar], dict[str, Scalar]]:
    """One step: the state after it, and its outputs. Raises `KeyError` where an input is missing."""
    values: dict[Node, Scalar] = {}
    for node in step.nodes:
        if node.operator == "constant":
            values[node] = node.value
        elif node.operator == "variable":
            values[node] = state[node.name] if node.name in step.states else inputs[node.name]
        else:
            values[node] = OPERATORS[node.operator].plain(*(values[each] for each in node.operands))
    after = {name: values[step.next[name]] if name in step.next else state[name] for name in step.states}
    return after, {name: values[node] for name, node in step.outputs.items()}
