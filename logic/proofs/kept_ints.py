"""Which whole numbers of a Step can stay whole numbers, for an encoder that knows them bit by bit."""

from __future__ import annotations

from rungproof.logic.steps.node import Node
from rungproof.logic.steps.step import Step

_KEPT = frozenset(("constant", "variable", "add", "sub", "neg", "abs", "mul", "select"))


def kept_ints(step: Step, unbounded: set[str]) -> set[Node]:
    """The int nodes that stay ints: whole-number arithmetic over variables that nothing else computes with."""
    out = {s.node for s in step.states.values() if s.type == "int" and s.name in unbounded}
    while True:
        kept = set()
        for node in step.nodes:
            numeric = [each for each in node.operands if each.type != "bool"]
            if node.type == "int" and node.operator in _KEPT and node not in out and all(n in kept for n in numeric):
                kept.add(node)
        more = {s.node for s in step.states.values() if s.node in kept and step.next.get(s.name, s.node) not in kept}
        more |= {
            each
            for node in step.nodes
            if node.type != "bool" and node not in kept
            for each in node.operands
            if each.operator == "variable" and each in kept
        }
        if not more:
            return kept
        out |= more
