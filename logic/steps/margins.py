"""How far a requirement is from being violated, as a number: the margin of its monitor.

Worked out from what the monitor drives: of `a < b` the distance is that between a and b, of several
things that must all come the greatest distance, of several of which one is enough the least; a truth
is either there or out of reach. Where numbers of the program are compared, times count as truths;
else the margin is one of time (ms). A requirement without a comparison has none.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import reduce

from rungproof.logic.steps.node import Node, apply, both, constant, inverse, least, most, ordered, select, variable
from rungproof.logic.steps.run_plan import MonitorPlan, RunPlan

#: Farther than anything: no margin was seen.
OUT_OF_REACH = 1e300
NEAREST = "nearest"

#: A requirement of more nodes is not measured.
MOST_NODES = 400

_FAR, _HERE = constant(OUT_OF_REACH), constant(0.0)


def with_margins(plan: RunPlan, names: Collection[str]) -> RunPlan:
    """The plan with a state in the monitor of each of `names` that has a margin: the least so far, output `nearest`."""
    found = [_kept_nearest(each) if each.name in names else each for each in plan.requirements]
    return replace(plan, requirements=found)


def _kept_nearest(monitor: MonitorPlan) -> MonitorPlan:
    margin = margin_of(monitor.outputs["violated"])
    if margin is None:
        return monitor
    asked, distance = margin
    nearest = variable(f"{monitor.name}/{NEAREST}", "real")
    return replace(
        monitor,
        starts={**monitor.starts, nearest: OUT_OF_REACH},
        next={**monitor.next, nearest: select(asked, least(distance, nearest), nearest)},
        outputs={**monitor.outputs, NEAREST: nearest},
    )


def margin_of(violated: Node) -> tuple[Node, Node] | None:
    """When `violated` is at all near, and its distance then; None where nothing is compared."""
    if len(ordered([violated])) > MOST_NODES:
        return None
    compared = list(_compared(violated))
    numbers = [n for n in compared if n.operands[0].type == "real"]
    counted = set(numbers or compared)
    if not counted:
        return None
    parts = list(_conjuncts(violated))
    measured = [each for each in parts if counted & set(_compared(each))]
    asked = [each for each in parts if each not in measured]
    distance = _Margins(counted).distance
    return both(*asked), reduce(most, (distance(each, True) for each in measured))


def _conjuncts(node: Node) -> Iterator[Node]:
    """The truths that must all stand."""
    if node.operator == "and":
        for each in node.operands:
            yield from _conjuncts(each)
    else:
        yield node


def _compared(node: Node) -> Iterator[Node]:
    """The comparisons that a truth is made of."""
    if node.operator in ("lt", "le"):
        yield node
    elif node.operator in ("and", "or", "not"):
        for each in node.operands:
            yield from _compared(each)


@dataclass
class _Margins:
    """`counted` are the comparisons that have a distance; everything else is there or out of reach."""

    counted: set[Node]

    def distance(self, node: Node, wanted: bool) -> Node:
        """How far `node` is from being `wanted`."""
        if node.operator == "not":
            return self.distance(node.operands[0], not wanted)
        if node in self.counted:
            a, b = (each if each.type == "real" else apply("real", each) for each in node.operands)
            return apply("sub", a, b) if wanted else apply("sub", b, a)
        if node.operator in ("and", "or") and self.counted & set(_compared(node)):
            one, other = (self.distance(each, wanted) for each in node.operands)
            return most(one, other) if (node.operator == "and") == wanted else least(one, other)
        return select(node if wanted else inverse(node), _HERE, _FAR)
