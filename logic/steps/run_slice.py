"""The part of a run that somebody asks about: what judges and what is shown, and all that they hang on."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from itertools import islice

from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.run_plan import RunPlan


def showing(plan: RunPlan, names: Collection[str]) -> RunPlan:
    """The plan without what no monitor needs and none of `names`, tags or plant values, shows in the end."""
    tags = {name: node for name, node in plan.tags.items() if name in names}
    look = {name: node for name, node in plan.look.items() if name in names}
    roots = [plan.powered, plan.stopped, plan.hung, plan.overruns, plan.memory_lost, *tags.values(), *look.values()]
    for monitor in (*plan.requirements, *plan.assumptions, *(each for each, _ in plan.expectations)):
        roots += [*monitor.next.values(), *monitor.outputs.values()]
    needed = _needed(plan, roots)
    # A controller that nobody asks about still scans.
    publish = _kept(plan.publish, needed) or dict(islice(plan.publish.items(), 1))
    needed |= _needed(plan, [*publish, *publish.values()])
    return replace(
        plan,
        tags=tags,
        look=look,
        publish=publish,
        when_off={node: plan.when_off[node] for node in publish},
        when_stopped={node: plan.when_stopped[node] for node in publish},
        memory_next=_kept(plan.memory_next, needed),
        memory_starts={node: value for node, value in plan.memory_starts.items() if node in needed},
        plant_next=_kept(plan.plant_next, needed),
        noise={node: how for node, how in plan.noise.items() if node in needed},
    )


def _kept(values: Mapping[Node, Node], needed: Collection[Node]) -> dict[Node, Node]:
    return {node: value for node, value in values.items() if node in needed}


def _needed(plan: RunPlan, roots: Collection[Node]) -> set[Node]:
    """The variables that `roots` depend on, through any number of instants."""
    phases = (plan.memory_next, plan.publish, plan.when_off, plan.when_stopped, plan.plant_next)
    needed: set[Node] = set()
    pending = list(roots)
    while pending:
        fresh = {node for node in ordered(pending) if node.operator == "variable"} - needed
        needed |= fresh
        pending = [phase[node] for node in fresh for phase in phases if node in phase]
    return needed
