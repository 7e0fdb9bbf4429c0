"""A plant's amounts held within an envelope: at every tick anything, unless a fact says that it cannot be.

An amount that facts speak of is a state, its value at the last instant. At each instant a value is offered, free
within its range; it is taken if the monitor of no fact is violated by it, else the amount stays where it was (a
pump's speed goes to 0). So whatever a plant inside the envelope does the system can do: offered, it is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rungproof.logic.proofs.envelope import PLANT, Fact
from rungproof.logic.steps.node import Node, apply, both, inverse, ordered, select, substitute, typed_constant, variable
from rungproof.logic.steps.run_plan import MonitorPlan, RunPlan
from rungproof.logic.steps.step import StateVariable

#: Before the name of an amount: what is offered for it at an instant.
OFFERED = "offered:"

Nodes = dict[str, Node]


@dataclass(frozen=True)
class _Taken:
    """`offered` where `allowed`, `else_` elsewhere."""

    allowed: Node
    offered: Node
    else_: Node


@dataclass(frozen=True)
class Parts:
    """A Step being put together: its states, what they become, what is said."""

    states: dict[str, StateVariable]
    after: Nodes
    says: Nodes


def enveloped(plan: RunPlan, facts: Mapping[str, Fact], parts: Parts, begun: Node) -> Parts:
    """`parts` with the amounts of facts within their envelope, and the facts' own monitors; `facts` by the names of
    these. The monitors look at the start, too: what holds from tick to tick holds of the first."""
    monitors = {each.name: each for each in plan.requirements if each.name in facts}
    states, after = dict(parts.states), dict(parts.after)
    taken: dict[Node, _Taken] = {}
    for name in dict.fromkeys(fact.about for fact in facts.values()):
        amount = variable(f"{PLANT}{name}", "real")
        own = [monitors[key] for key, fact in facts.items() if fact.about == name]
        taken[amount] = _taken(amount, own, begun)
        low, high = plan.ranges[taken[amount].offered] = plan.ranges[amount]
        states[amount.name] = StateVariable(amount.name, "real", plan.starts[amount], low, high)
        after[amount.name] = amount
    for monitor in monitors.values():
        for node, start in monitor.starts.items():
            low, high = plan.ranges[node]
            states[node.name] = StateVariable(node.name, node.type, start, low, high)
            after[node.name] = monitor.next[node]
    became = _replaced([*after.values(), *parts.says.values()], taken)
    return Parts(
        states,
        {name: became[node] for name, node in after.items()},
        {name: became[node] for name, node in parts.says.items()},
    )


def _taken(amount: Node, monitors: Sequence[MonitorPlan], begun: Node) -> _Taken:
    offered = variable(f"{OFFERED}{amount.name}", "real")
    broken = [each.outputs["violated"] for each in monitors]
    became = substitute(broken, {amount: offered})
    allowed = both(*(inverse(became[each]) for each in broken))
    if amount.name.endswith(".volume"):
        return _Taken(both(begun, allowed), offered, amount)
    return _Taken(both(begun, allowed), offered, select(begun, typed_constant("real", 0.0), amount))


def _replaced(roots: Sequence[Node], taken: Mapping[Node, _Taken]) -> dict[Node, Node]:
    """Each root with what is taken of an amount in its place: a comparison of one amount alone is one of what is
    offered, or of what stands instead, so that each is still a comparison of one variable."""
    done: dict[Node, Node] = {}
    reads: dict[Node, frozenset[Node]] = {}
    for node in ordered(roots):
        if node.operator == "variable":
            reads[node] = frozenset((node,))
        else:
            reads[node] = frozenset().union(*(reads[each] for each in node.operands))
        only = next(iter(reads[node])) if len(reads[node]) == 1 else None
        if node in taken:
            choice = taken[node]
            done[node] = select(choice.allowed, choice.offered, choice.else_)
        elif node.operator in ("lt", "le", "eq") and only is not None and only in taken:
            choice = taken[only]
            arms = (substitute([node], {only: each})[node] for each in (choice.offered, choice.else_))
            done[node] = select(choice.allowed, *arms)
        elif node.operands:
            operands = tuple(done[each] for each in node.operands)
            done[node] = node if operands == node.operands else apply(node.operator, *operands)
        else:
            done[node] = node
    return done
