"""A Step cut down to what lies near an output: whatever is further away may be anything at every step.

A node that is cut becomes one free input, so that whoever reads it reads the same; two versions of a tag are
two nodes and get one each. The Step left over shows every run of the whole, and more: it can prove, and never refutes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from rungproof.logic.steps.intervals import extreme
from rungproof.logic.steps.node import Node, substitute, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step


def near_step(step: Step, output: str, depth: int) -> Step:
    """`step` with all that is more than `depth` nodes away from `output` left free; `step` itself if nothing is.

    What a state becomes is one further away than the state.
    """
    far = _further_than(step, output, depth)
    if not far:
        return step
    given = {node: variable(f"?far {place}", node.type) for place, node in enumerate(far)}
    cut = {node.name for node in far if node.operator == "variable"}
    nexts = {name: node for name, node in _reached(step, output, given).items() if name not in cut}
    became = substitute([*nexts.values(), step.outputs[output]], given)
    free = {each.name: InputVariable(each.name, "bool") for each in given.values()}
    return Step(
        {name: each for name, each in step.states.items() if name not in cut},
        {**{name: each for name, each in step.inputs.items() if name not in cut}, **free},
        {name: became[node] for name, node in nexts.items()},
        {output: became[step.outputs[output]]},
    ).slice([output])


def nearest_states(step: Step, output: str) -> Iterator[StateVariable]:
    """The states that an output reads, through what they become, those soonest read first."""
    queue = deque([step.outputs[output]])
    seen = set(queue)
    while queue:
        node = queue.popleft()
        onward = list(node.operands)
        if node.operator == "variable" and node.name in step.states:
            yield step.states[node.name]
            onward += [step.next[node.name]] if node.name in step.next else []
        queue.extend(each for each in dict.fromkeys(onward) if each not in seen)
        seen.update(onward)


def _reached(step: Step, output: str, cut: dict[Node, Node]) -> dict[str, Node]:
    """What the states become that are met on this side of `cut`."""
    found: dict[str, Node] = {}
    seen = set(cut)
    pending = [step.outputs[output]]
    while pending:
        node = pending.pop()
        if node in seen:
            continue
        seen.add(node)
        pending += node.operands
        if node.operator == "variable" and node.name in step.next:
            found[node.name] = step.next[node.name]
            pending.append(step.next[node.name])
    return found


def _further_than(step: Step, output: str, depth: int) -> list[Node]:
    """The bool nodes, no constants, that are first met one step beyond `depth`. What chooses the lesser or the
    greater of two numbers is none of them: without it the number has no bounds."""
    distance = {step.outputs[output]: 0}
    queue = deque(distance)
    far, bound = [], set()
    while queue:
        node = queue.popleft()
        if extreme(node) is not None:
            bound.add(node.operands[0])
        free = node.operator != "constant" and node.type == "bool" and node not in bound
        if distance[node] > depth and free:
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
