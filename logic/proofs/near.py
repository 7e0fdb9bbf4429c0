"""A rewritten Step cut down to what lies near an output: whatever is further away may be anything at every step.

A node that is cut becomes one free input, so that whoever reads it reads the same; two versions of a tag are
two nodes and get one each. The Step left over shows every run of the whole, and more: it can prove, and never refutes.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from rungproof.logic.proofs.thresholds import Bits
from rungproof.logic.steps.node import Node, substitute, variable
from rungproof.logic.steps.step import InputVariable, Step


def near(bits: Bits, output: str, depth: int) -> Bits:
    """`bits` with all that is more than `depth` nodes away from `output` left free.

    What a state becomes is one further away than the state.
    """
    step = bits.step
    far = _further_than(step, output, depth)
    if not far:
        return bits
    given = {node: variable(f"?far {place}", node.type) for place, node in enumerate(far)}
    cut = {node.name for node in far if node.operator == "variable"}
    nexts = {name: node for name, node in step.next.items() if name not in cut}
    became = substitute([*nexts.values(), step.outputs[output]], given)
    free = {each.name: InputVariable(each.name, "bool") for each in given.values()}
    left = Step(
        {name: each for name, each in step.states.items() if name not in cut},
        {**{name: each for name, each in step.inputs.items() if name not in cut}, **free},
        {name: became[node] for name, node in nexts.items()},
        {output: became[step.outputs[output]]},
    ).slice([output])
    return replace(bits, step=left, free=bits.free & left.states.keys(), start_clauses=(), exact=False)


def _further_than(step: Step, output: str, depth: int) -> list[Node]:
    """The bool nodes, no constants, that are first met one step beyond `depth`."""
    distance = {step.outputs[output]: 0}
    queue = deque(distance)
    far = []
    while queue:
        node = queue.popleft()
        if distance[node] > depth and node.operator != "constant" and node.type == "bool":
            far.append(node)
            continue
        onward = list(node.operands)
        if node.operator == "variable" and node.name in step.next:
            onward.append(step.next[node.name])
        for each in onward:
            if each not in distance:
                distance[each] = distance[node] + 1
                queue.append(each)
    return far
