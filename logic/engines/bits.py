"""Boolean Steps over many lanes at once: every variable one whole number, every lane one bit of it.

For slices that hold no numbers: interlocks, seal-ins, latches, edges. Python's own whole
numbers carry as many lanes as one likes; a few thousand and more make each operation worth
its call. Lane i stands in bit i.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from rungproof.logic.engines.compiled_writer import Block, Lines
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import OPERATORS
from rungproof.logic.steps.step import Step

#: The operators of booleans, over words of bits; `ones` has every lane's bit set.
TEMPLATES = {
    "and": "({0} & {1})",
    "or": "({0} | {1})",
    "not": "({0} ^ ones)",
    "eq": "({0} ^ {1} ^ ones)",
    "select": "({2} ^ ({0} & ({1} ^ {2})))",
}
_BOOLEAN = {o.name for o in OPERATORS.values() if any({*given, result} == {"bool"} for given, result in o.signatures)}
if set(TEMPLATES) != _BOOLEAN:
    raise AssertionError(f"the bit engine must know every operator of booleans: {_BOOLEAN ^ set(TEMPLATES)}")


class NotBooleanError(ValueError):
    """Raised for a Step that holds a number; names the first one."""


class BitStep:
    """A boolean Step, ready for `lanes` lanes. Raises `NotBooleanError` where it holds numbers."""

    def __init__(self, step: Step, lanes: int) -> None:
        for node in step.nodes:
            if node.type != "bool":
                raise NotBooleanError(f"`{node.name or node.operator}` is a number: slice to what holds none")
        self.step, self.lanes = step, lanes
        self.ones = (1 << lanes) - 1
        self.source = _source(step)
        scope: dict[str, Any] = {}
        exec(compile(self.source, "<bits>", "exec"), scope)  # the source is ours alone, made from nodes
        self._advance: Callable[..., tuple[tuple[int, ...], tuple[int, ...]]] = scope["advance"]

    def start(self) -> tuple[int, ...]:
        """The state of all lanes before the first step: one word a state variable, in the Step's order."""
        return tuple(self.ones if each.start else 0 for each in self.step.states.values())

    def advance(self, state: tuple[int, ...], inputs: Mapping[str, int]) -> tuple[tuple[int, ...], dict[str, int]]:
        """One step of every lane: the state after it and the outputs. `inputs` holds a word an input."""
        given = tuple(inputs[name] for name in self.step.inputs)
        after, shown = self._advance(state, given, self.ones)
        return after, dict(zip(self.step.outputs, shown, strict=True))


class _Bits(Block):
    """Writes nodes as operations on words."""

    def write(self, node: Node) -> str:
        known = self.names.get(node)
        if known is not None:
            return known
        if node.operator == "constant":
            return "ones" if node.value else "0"
        return TEMPLATES[node.operator].format(*(self.write(each) for each in node.operands))


def _source(step: Step) -> str:
    names = {each.node: f"s{i}" for i, each in enumerate(step.states.values())}
    names |= {each.node: f"i{i}" for i, each in enumerate(step.inputs.values())}
    lines = Lines()
    lines.open("def advance(state, given, ones):")
    for what, variables in (("state", step.states), ("given", step.inputs)):
        if variables:
            lines.add(f"{', '.join(names[each.node] for each in variables.values())}, = {what}")
    block = _Bits(lines, names)
    after = [step.next.get(name, each.node) for name, each in step.states.items()]
    shown = list(step.outputs.values())
    twice = [node.operands[2] for node in step.nodes if node.operator == "select" and node.operands[2].operands]
    block.share([*after, *shown], twice)
    both = ("".join(f"{block.write(node)}, " for node in nodes) for nodes in (after, shown))
    lines.add("return " + ", ".join(f"({each})" for each in both))
    return "\n".join(lines.text) + "\n"
