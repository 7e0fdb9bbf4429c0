"""The variables of a run of many lanes, by name, and the stretches of statements that read and move them."""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.logic.engines.compiled_writer import leaves
from rungproof.logic.engines.lanes_moves import moves
from rungproof.logic.engines.lanes_source import Source
from rungproof.logic.engines.lanes_writer import Section
from rungproof.logic.steps.controller import ELAPSED
from rungproof.logic.steps.monitors import INSTANT
from rungproof.logic.steps.narrow import Facts
from rungproof.logic.steps.node import Node, variable
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.run_plan import FIRST, MonitorPlan, RunPlan, Shape

#: Times since the last scan and since the last instant that a monitor looked at, each lane's own.
SCAN_ELAPSED, SINCE = variable(ELAPSED, "int"), variable(INSTANT, "int")
OWN = {FIRST: "first", SCAN_ELAPSED: "elapsed", SINCE: "since"}


class Frame:
    """What the parts of a run's source share: the names of its variables, its lines, what stands still for a while."""

    def __init__(self, plan: RunPlan, facts: Facts, shape: Shape) -> None:
        self.plan, self.shape = plan, shape
        self.monitors = [*plan.requirements, *plan.assumptions]
        self.names: dict[Node, str] = dict(OWN)
        self.starts: dict[Node, Scalar] = {**plan.starts, **plan.memory_starts}
        for monitor in self.monitors:
            self.starts.update(monitor.starts)
        for stem, nodes in (
            ("e", plan.environment),
            ("p", plan.plant_next),
            ("m", plan.memory_starts),
            ("v", plan.publish),
            ("n", plan.noise),
            ("w", [node for m in self.monitors for node in m.starts]),
            ("a", [truth for age in plan.ages.values() for truth in age.past]),
        ):
            self.names.update({node: f"{stem}{index}" for index, node in enumerate(nodes)})
        self.source = Source(facts, dict.fromkeys(self._alike(), True))
        self.lines, self.held = self.source.lines, dict[str, str]()
        self.heeded: list[int] = []

    def _alike(self) -> set[Node]:
        """Variables that are the same in all lanes: their moves read nothing that differs."""
        values = dict(self.plan.plant_next) if self.plan.has_plant else {}
        for monitor in self.watchers("tick") if self.plan.has_plant else []:
            values.update(monitor.next)
        found = set(values)
        while True:
            lost = {node for node in found if not leaves([values[node]]) <= found}
            if not lost:
                return found
            found -= lost

    def section(self) -> Section:
        """A new stretch of statements, which knows the variables alone."""
        return Section(self.source, self.names)

    def watchers(self, instants: str) -> list[MonitorPlan]:
        """The monitors that look at scan ends, or at ticks."""
        return [m for m in self.monitors if m.instants == instants]

    def become(self, values: Mapping[Node, Node], under: str) -> None:
        """Write that `values` become, in the lanes of the word `under`."""
        section = self.section()
        becoming = moves(section, values)
        section.work_out(becoming.roots, becoming.conditional)
        becoming.write(under)
        section.release()
