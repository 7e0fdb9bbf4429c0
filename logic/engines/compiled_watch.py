"""The part of a generated run that watches: assumptions, requirements, expectations, the record."""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.engines.compiled_writer import Block, Lines, Update
from rungproof.logic.meaning.program import Expectation
from rungproof.logic.steps.node import OFF, ON, Node, inverse
from rungproof.logic.steps.run_plan import MonitorPlan, RunPlan, Shape

_Expected = Sequence[tuple[int, MonitorPlan, Expectation]]


class Watch:
    """Step 4 of an instant: who looks when, and what is kept of it."""

    def __init__(self, plan: RunPlan, shape: Shape, lines: Lines) -> None:
        self.plan, self.shape, self.lines = plan, shape, lines
        self.monitors = [*plan.requirements, *plan.assumptions, *(m for m, _ in plan.expectations)]
        self.record_at = ("tick" if plan.has_plant else "scan") if shape.record else ""

    # ------------------------------------------------------- what is needed when

    def at_ticks(self) -> list[Node]:
        return self._needed("tick")

    def at_scans(self) -> list[Node]:
        return self._needed("scan")

    def _needed(self, instants: str) -> list[Node]:
        nodes = []
        for monitor in self.monitors:
            if monitor.instants == instants:
                nodes += [*monitor.next.values(), *monitor.outputs.values()]
        if self.record_at == instants:
            nodes += [*self.plan.tags.values(), *self.plan.look.values()]
        if instants == "tick":
            nodes += self._told()
        return nodes

    def _assumptions(self, instants: str) -> list[tuple[int, MonitorPlan]]:
        return [(i, m) for i, m in enumerate(self.plan.assumptions) if m.instants == instants]

    def _requirements(self, instants: str) -> list[tuple[int, MonitorPlan]]:
        return [(i, m) for i, m in enumerate(self.plan.requirements) if m.instants == instants]

    def _expectations(self, instants: str) -> _Expected:
        return [(i, m, e) for i, (m, e) in enumerate(self.plan.expectations) if m.instants == instants]

    # ------------------------------------------------------------------ writing

    def begin(self) -> None:
        lines = self.lines
        lines.add("broken = None; looked_at = ended = looks = 0; stop = False")
        for i, _ in enumerate(self.plan.requirements):
            lines.add(f"bad{i} = None; came{i} = 0")
        for i, _ in enumerate(self.plan.expectations):
            lines.add(f"last{i} = None; seen{i} = missed{i} = inside{i} = False")
        if self.shape.told:
            lines.add("told = None")

    def carried(self) -> list[str]:
        """What the watching carries from one instant to the next, monitors' states apart."""
        found = ["broken", "looked_at", "ended", "looks", "stop", *(["told"] if self.shape.told else [])]
        for i, _ in enumerate(self.plan.requirements):
            found += [f"bad{i}", f"came{i}"]
        for i, _ in enumerate(self.plan.expectations):
            found += [f"last{i}", f"seen{i}", f"missed{i}", f"inside{i}"]
        return found

    def write(self, block: Block) -> None:
        """All that is done at an instant, t = 0 apart."""
        lines = self.lines
        lines.open("if at_scan:")
        lines.add("since = t - looked_at; looked_at = t; looks += 1")
        self._assume(block.inner(), "scan")
        lines.close()
        if self._assumptions("tick"):
            lines.open("if t:")
            self._assume(block.inner(), "tick")
            lines.close()
        if self.plan.assumptions:
            lines.add("if broken is not None: break")
        self._under("if at_scan:", block, "scan")
        self._under("if t:", block, "tick")
        if self.shape.told:
            self._tell(block)
        if self.shape.stop_at_violation and self.plan.requirements:
            lines.add("if stop: break")

    def _under(self, condition: str, block: Block, instants: str) -> None:
        requirements, expectations = self._requirements(instants), self._expectations(instants)
        if requirements or expectations or self.record_at == instants:
            self.lines.open(condition)
            inner = block.inner()
            self._prepare(inner, [m for _, m in requirements] + [m for _, m, _ in expectations], instants)
            self._judge(inner, requirements)
            self._expect(inner, expectations)
            if self.record_at == instants:
                self._record(inner)
            self._remember(inner, [m for _, m in requirements] + [m for _, m, _ in expectations])
            self.lines.close()

    def _prepare(self, block: Block, monitors: Sequence[MonitorPlan], instants: str) -> None:
        roots: list[Node] = []
        for monitor in monitors:
            roots += [*monitor.next.values(), *(n for name, n in monitor.outputs.items() if name != "open")]
        if instants and self.record_at == instants:
            roots += self.plan.look.values()
        block.share(roots)

    def _remember(self, block: Block, monitors: Sequence[MonitorPlan]) -> None:
        block.update([Update(block.names[n], value) for m in monitors for n, value in m.next.items()])

    def _assume(self, block: Block, instants: str) -> None:
        members = self._assumptions(instants)
        if not members:
            return
        self._prepare(block, [m for _, m in members], "")
        for i, monitor in members:
            breached = block.write(inverse(monitor.outputs["holds"]))
            self.lines.add(f"if {breached} and (broken is None or broken[0] > {i}): broken = ({i}, t)")
        self._remember(block, [m for _, m in members])

    def _judge(self, block: Block, members: Sequence[tuple[int, MonitorPlan]]) -> None:
        lines = self.lines
        for i, monitor in members:
            violated, triggered = monitor.outputs["violated"], monitor.outputs["triggered"]
            if violated is not OFF:
                lines.open(f"if {block.write(violated)} and bad{i} is None:")
                lines.add(f"bad{i} = t; stop = True")
                lines.close()
            if triggered not in (ON, OFF):
                lines.add(f"if {block.write(triggered)}: came{i} += 1")

    def _expect(self, block: Block, members: _Expected) -> None:
        for i, monitor, expectation in members:
            self.lines.add(f"last{i} = {block.write(monitor.outputs['holds'])}")
            self.lines.open(f"if {expectation.from_ms} <= t <= {expectation.from_ms + expectation.time_ms}:")
            self.lines.add(f"inside{i} = True; seen{i} = seen{i} or last{i}; missed{i} = missed{i} or not last{i}")
            self.lines.close()

    def _told(self) -> list[Node]:
        return [self.plan.tags.get(name) or self.plan.look[name] for name in self.shape.told]

    def _tell(self, block: Block) -> None:
        """Write down what is told, where it has changed."""
        told = self._told()
        self.lines.open("if t:")
        inner = block.inner()
        inner.share(told)
        self.lines.add(f"now = ({''.join(inner.write(each) + ', ' for each in told)})")
        self.lines.open("if now != told:")
        self.lines.add("told = now; rows.append((t, *now))")
        self.lines.close()
        self.lines.close()

    def _record(self, block: Block) -> None:
        values = [*self.plan.tags.values(), *self.plan.look.values()]
        block.share(values)
        self.lines.add(f"rows.append((t, {''.join(block.write(each) + ', ' for each in values)}))")

    def result(self, block: Block) -> str:
        """What the run returns of its watching: broken, instants looked at, judgements, expectations."""
        judged = []
        for i, monitor in enumerate(self.plan.requirements):
            triggered, stands = monitor.outputs["triggered"], monitor.outputs["open"]
            count = f"came{i}" if triggered is not ON else "looks" if monitor.instants == "scan" else "ticks"
            block.share([stands])
            judged.append(f"(bad{i}, {count}, {block.write(stands)})")
        met = [f"(last{i}, seen{i}, missed{i}, inside{i})" for i, _ in enumerate(self.plan.expectations)]
        judgements, expectations = ("".join(f"{each}, " for each in found) for found in (judged, met))
        return f"broken, ended, t >= duration, ({judgements}), ({expectations})"
