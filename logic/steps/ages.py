"""Ages of monitors by deadline: what has stood since when, in place of a number that grows at every tick.

A monitor that looks at every tick keeps a time as an age: a tick older at each, up to a limit, or 0
again. Where nothing is asked of an age but whether it has come so far, a run of many lanes need not
count: it keeps the instant at which the age was last 0, and knows beforehand when it will have come
so far. What is asked then is a truth, `past`, and a lane costs nothing until something changes in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from rungproof.logic.steps.node import OFF, ON, Node, constant, inverse, ordered, select, substitute, variable
from rungproof.logic.steps.run_plan import Age, MonitorPlan, RunPlan


def with_ages(plan: RunPlan) -> RunPlan:
    """The plan with the ages of its monitors by deadline, as far as nothing else is asked of them."""
    monitors = [*plan.requirements, *plan.assumptions]
    ages: dict[Node, Age] = {}
    told: dict[Node, Node] = {}
    for monitor in monitors if plan.has_plant else ():
        for age in monitor.next if monitor.instants == "tick" else ():
            found = _Asked(plan, monitor, age).by_deadline() if age.type == "int" and monitor.starts[age] == 0 else None
            if found is not None:
                ages[age], comparisons = found
                told |= comparisons
    if not ages:
        return plan
    became = substitute(told.values(), told)
    told = {node: became[truth] for node, truth in told.items()}
    requirements = [_without(each, ages, told) for each in plan.requirements]
    assumptions = [_without(each, ages, told) for each in plan.assumptions]
    rests = substitute([each.rests for each in ages.values()], told)
    ages = {node: replace(age, rests=rests[age.rests]) for node, age in ages.items()}
    return replace(plan, requirements=requirements, assumptions=assumptions, ages=ages)


def _without(monitor: MonitorPlan, ages: Mapping[Node, Age], told: dict[Node, Node]) -> MonitorPlan:
    """The monitor without ages of its own; what it shows in the end may still read them."""
    kept = {node: value for node, value in monitor.next.items() if node not in ages}
    became = substitute([*kept.values(), *monitor.outputs.values()], told)
    return replace(
        monitor,
        starts={node: start for node, start in monitor.starts.items() if node not in ages},
        next={node: became[value] for node, value in kept.items()},
        outputs={name: became[node] for name, node in monitor.outputs.items()},
    )


class _Asked:
    """What a plan asks of one age. `grown` is the age a tick later, up to its limit."""

    def __init__(self, plan: RunPlan, monitor: MonitorPlan, age: Node) -> None:
        self.plan, self.age, self.becomes = plan, age, monitor.next[age]
        self.readers = _readers(_asking(monitor))
        self.past: dict[int, Node] = {}
        self.grown, self.limit = age, 0

    def by_deadline(self) -> tuple[Age, dict[Node, Node]] | None:
        """The age, and what each comparison with it becomes; None where more is asked of it."""
        if not self._grows():
            return None
        choices = self._choices()
        comparisons: dict[Node, Node] = {}
        for node in choices:
            for reader in self.readers.get(node, ()):
                if reader in choices:
                    continue
                truth = self._compared(reader, node)
                if truth is None:
                    return None
                comparisons[reader] = truth
        rests = self._rests(self.becomes) if self.becomes in choices else None
        if rests is None or any(first <= self.plan.tick for first in self.past):
            return None
        return Age(rests, {node: first for first, node in self.past.items()}, self.limit), comparisons

    def _grows(self) -> bool:
        """Whether the age is read only to make it a tick older, up to a limit."""
        (older, *others) = self.readers.get(self.age, [self.age])
        if others or older.operator != "add" or constant(self.plan.tick) not in older.operands:
            return False
        readers = self.readers.get(older, [])
        for lesser in (each for each in readers if each.operator == "select"):
            compared, then, otherwise = lesser.operands
            limit = otherwise if then is older else then
            least = compared.operator == "lt" and compared.operands == (then, otherwise)
            if least and limit.operator == "constant" and set(readers) == {lesser, compared}:
                self.grown, self.limit = lesser, int(limit.value)
                return self.readers.get(compared) == [lesser]
        return False

    def _choices(self) -> set[Node]:
        """The selects between the grown age and 0, it among them."""
        found, pending = {self.grown}, [self.grown]
        while pending:
            for reader in self.readers.get(pending.pop(), ()):
                chosen = reader.operator == "select" and all(
                    each in found or each is constant(0) for each in reader.operands[1:]
                )
                if chosen and reader not in found:
                    found.add(reader)
                    pending.append(reader)
        return found

    def _compared(self, reader: Node, choice: Node) -> Node | None:
        """What a comparison of a choice with a constant says, in truths alone."""
        if reader.operator not in ("lt", "le"):
            return None
        a, b = reader.operands
        bound = b if a is choice else a
        if bound.operator != "constant" or bound.value < 0:
            return None
        # `a < c` and `a <= c` stand until the age is c, or is beyond it; `c < a` and `c <= a` from then on
        beyond = (reader.operator == "le") == (a is choice)
        first = int(bound.value) + beyond
        truth = self._reached(choice, first)
        return inverse(truth) if a is choice else truth

    def _reached(self, choice: Node, first: int) -> Node:
        """Whether a choice is `first` or more."""
        if choice is constant(0):
            return ON if first <= 0 else OFF
        if choice is self.grown:
            if first > self.limit:
                return OFF
            tick = self.plan.tick
            first = -(-first // tick) * tick
            return self.past.setdefault(first, variable(f"{self.age.name} past {first}", "bool"))
        condition, then, otherwise = choice.operands
        return select(condition, self._reached(then, first), self._reached(otherwise, first))

    def _rests(self, value: Node) -> Node | None:
        """Whether what the age becomes is 0."""
        if value is constant(0):
            return ON
        if value is self.grown:
            return OFF
        condition, then, otherwise = value.operands
        a, b = self._rests(then), self._rests(otherwise)
        return None if a is None or b is None else select(condition, a, b)


def _asking(monitor: MonitorPlan) -> Iterable[Node]:
    """All but what stands open in the end, for which an age is worked out."""
    return [*monitor.next.values(), *(node for name, node in monitor.outputs.items() if name != "open")]


def _readers(roots: Iterable[Node]) -> dict[Node, list[Node]]:
    found: dict[Node, list[Node]] = {}
    for node in ordered(roots):
        for operand in dict.fromkeys(node.operands):
            found.setdefault(operand, []).append(node)
    return found
