"""What the ranges of a run's variables make plain: comparisons that always come out one way.

A clamp that never bites, a guard against an empty tank that is never empty: they fold away, and
no bit of any value changes. Ranges are those declared, kept only where the run's own nodes keep
them from its start on; the environment can be anything. Beside its interval, a number may be
known never to be -0.0, so that the lesser of two is the same whichever way it is worked out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from rungproof.logic.steps.ages import with_ages
from rungproof.logic.steps.intervals import EVERYTHING, Interval, extreme, intervals_of
from rungproof.logic.steps.node import OFF, ON, Node, apply, constant, ordered
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.run_plan import MonitorPlan, RunPlan

#: Rounds of dropping ranges that do not keep; then all that are left over go.
MOST_ROUNDS = 20


@dataclass
class Facts:
    """The interval of every numeric node that was asked about; the reals that are never -0.0."""

    intervals: dict[Node, Interval] = field(default_factory=dict)
    unsigned_zero: set[Node] = field(default_factory=set)


def narrowed(plan: RunPlan) -> tuple[RunPlan, Facts]:
    """The plan with what its ranges decide folded in, and what is known of its nodes.

    What folds away may have hidden a range: so it is done twice. Ages of monitors
    are told by deadline where they can be.
    """
    plan, _ = _narrower(plan)
    return _narrower(with_ages(plan))


def _narrower(plan: RunPlan) -> tuple[RunPlan, Facts]:
    facts = _facts(plan)
    became = _folded(_all_nodes(plan), facts)
    plain = RunPlan(
        tick=plan.tick,
        has_plant=plan.has_plant,
        environment=plan.environment,
        starts=plan.starts,
        powered=became[plan.powered],
        stopped=became[plan.stopped],
        hung=became[plan.hung],
        overruns=became[plan.overruns],
        memory_lost=became[plan.memory_lost],
        inputs_held=plan.inputs_held,
        memory_next=_mapped(plan.memory_next, became),
        memory_starts=plan.memory_starts,
        retained=plan.retained,
        publish=_mapped(plan.publish, became),
        when_off=_mapped(plan.when_off, became),
        when_stopped=_mapped(plan.when_stopped, became),
        plant_next=_mapped(plan.plant_next, became),
        look={key: became[node] for key, node in plan.look.items()},
        noise=plan.noise,
        requirements=[_monitor(each, became) for each in plan.requirements],
        assumptions=[_monitor(each, became) for each in plan.assumptions],
        expectations=[(_monitor(each, became), expected) for each, expected in plan.expectations],
        tags={key: became[node] for key, node in plan.tags.items()},
        ranges=plan.ranges,
        ages={node: replace(age, rests=became[age.rests]) for node, age in plan.ages.items()},
    )
    return plain, facts


def _mapped(values: Mapping[Node, Node], became: Mapping[Node, Node]) -> dict[Node, Node]:
    return {node: became[value] for node, value in values.items()}


def _monitor(monitor: MonitorPlan, became: Mapping[Node, Node]) -> MonitorPlan:
    outputs = {name: became[node] for name, node in monitor.outputs.items()}
    return MonitorPlan(monitor.name, monitor.instants, monitor.starts, _mapped(monitor.next, became), outputs)


def _monitors(plan: RunPlan) -> list[MonitorPlan]:
    return [*plan.requirements, *plan.assumptions, *(each for each, _ in plan.expectations)]


def _all_nodes(plan: RunPlan) -> list[Node]:
    found = [plan.powered, plan.stopped, plan.hung, plan.overruns, plan.memory_lost]
    found += [*plan.look.values(), *plan.tags.values(), *(age.rests for age in plan.ages.values())]
    for values in (plan.memory_next, plan.publish, plan.when_off, plan.when_stopped, plan.plant_next):
        found += values.values()
    for monitor in _monitors(plan):
        found += [*monitor.next.values(), *monitor.outputs.values()]
    return found


# ------------------------------------------------------------------------- facts


def _facts(plan: RunPlan) -> Facts:
    """By induction over the run: what holds at its start and after every move from where it holds."""
    starts: dict[Node, Scalar] = {**plan.starts, **plan.memory_starts}
    for monitor in _monitors(plan):
        starts |= monitor.starts
    moves = _moves(plan)
    nodes = _all_nodes(plan)
    order = ordered(nodes)
    variables = [node for node in order if node.operator == "variable" and node.type != "bool"]
    known = {node: _declared(plan, node) if node in starts else EVERYTHING for node in variables}
    known |= {node: (-1.0, 1.0) for node in plan.noise if node in known}
    facts = Facts(_kept(nodes, known, starts, moves))
    facts.unsigned_zero = _never_minus_zero(order, facts.intervals, starts, moves)
    return facts


def _moves(plan: RunPlan) -> dict[Node, list[Node]]:
    """All that a variable can become."""
    found: dict[Node, list[Node]] = {}
    for values in (plan.memory_next, plan.publish, plan.when_off, plan.when_stopped, plan.plant_next):
        for node, value in values.items():
            found.setdefault(node, []).append(value)
    for monitor in _monitors(plan):
        for node, value in monitor.next.items():
            found.setdefault(node, []).append(value)
    return found


def _declared(plan: RunPlan, node: Node) -> Interval:
    low, high = plan.ranges.get(node, EVERYTHING)
    return (float(low), float(high)) if node.type == "real" else (low, high)


def _kept(
    nodes: Iterable[Node], known: dict[Node, Interval], starts: Mapping[Node, Scalar], moves: Mapping[Node, list[Node]]
) -> dict[Node, Interval]:
    for round_ in range(MOST_ROUNDS + 1):
        found = intervals_of(nodes, {node.name: interval for node, interval in known.items()})
        lost = [
            node
            for node, (low, high) in known.items()
            if node in starts
            and (low, high) != EVERYTHING
            and not all(low <= least and most <= high for least, most in _becomes(node, found, starts, moves))
        ]
        if not lost:
            return found
        known |= dict.fromkeys(lost if round_ < MOST_ROUNDS - 1 else [n for n in known if n in starts], EVERYTHING)
    return found


def _becomes(
    node: Node, found: Mapping[Node, Interval], starts: Mapping[Node, Scalar], moves: Mapping[Node, list[Node]]
) -> list[Interval]:
    start = starts[node]
    return [(start, start), *(found[value] for value in moves.get(node, ()))]


def _never_minus_zero(
    order: Iterable[Node],
    intervals: Mapping[Node, Interval],
    starts: Mapping[Node, Scalar],
    moves: Mapping[Node, list[Node]],
) -> set[Node]:
    reals = [node for node in order if node.type == "real"]
    suspects = {n for n in reals if n.operator == "variable" and n in starts and not _is_minus_zero(starts[n])}
    while True:
        safe = set(suspects)
        for node in reals:
            if node.operator != "variable" and _is_safe(node, safe, intervals):
                safe.add(node)
        lost = {node for node in suspects if not all(value in safe for value in moves.get(node, ()))}
        if not lost:
            return safe
        suspects -= lost


def _is_minus_zero(value: Scalar) -> bool:
    return str(float(value)) == "-0.0"


def _is_safe(node: Node, safe: set[Node], intervals: Mapping[Node, Interval]) -> bool:
    """Whether a result is never -0.0, by the rules of IEEE 754 for the sign of a zero, round to nearest."""
    operands = node.operands
    match node.operator:
        case "constant":
            return not _is_minus_zero(node.value)
        case "real" | "abs":
            return True
        case "add":
            return operands[0] in safe or operands[1] in safe
        case "sub" | "sqrt":
            return operands[0] in safe
        case "mul" | "quotient" | "divide":
            return all(each in safe and intervals[each][0] >= 0 for each in operands)
        case "select":
            return operands[1] in safe and operands[2] in safe
        case _:
            return False


# ----------------------------------------------------------------------- folding


def _folded(roots: Iterable[Node], facts: Facts) -> dict[Node, Node]:
    """Every node, and what it is where the facts hold; what is new is known as its old self was."""
    became: dict[Node, Node] = {}
    for node in ordered(roots):
        operands = tuple(became[each] for each in node.operands)
        new = node if operands == node.operands else apply(node.operator, *operands)
        if new.type != "bool" and node in facts.intervals:
            facts.intervals.setdefault(new, facts.intervals[node])
            if node in facts.unsigned_zero:
                facts.unsigned_zero.add(new)
        became[node] = _settled(new, facts)
    return became


def _settled(node: Node, facts: Facts) -> Node:
    """What a node always is: a truth, or one of its operands to the bit; itself if that is not known."""
    intervals, operands = facts.intervals, node.operands
    if any(each.type != "bool" and each not in intervals for each in operands):
        return node
    if node.operator in ("lt", "le"):
        (low_a, high_a), (low_b, high_b) = intervals[operands[0]], intervals[operands[1]]
        always = high_a < low_b if node.operator == "lt" else high_a <= low_b
        never = low_a >= high_b if node.operator == "lt" else low_a > high_b
        return ON if always else OFF if never else node
    if node.operator == "add" and node.type == "real":
        for zero, other in (operands, operands[::-1]):
            if zero is constant(0.0) and other in facts.unsigned_zero:
                return other
    if node.operator == "sub" and operands[1] is constant(0.0):
        return operands[0]
    found = extreme(node)
    if found is not None:
        which, a, b = found
        (low_a, high_a), (low_b, high_b) = intervals[a], intervals[b]
        alike = node.type == "int" or low_b > 0 or high_b < 0
        if alike and (high_a <= low_b if which == "min" else low_a >= high_b):
            return a
    return node
