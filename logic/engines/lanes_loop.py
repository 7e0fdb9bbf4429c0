"""The source of a run of many lanes: the loop of `contract.py` over arrays, one entry a lane.

With a plant all lanes share the clock, and a lane's scan boundary is its own; without a
plant every lane has its own clock and each turn of the loop is one boundary of each. A
lane leaves when it has ended; the arrays then close up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rungproof.logic.engines.chance import stream_of
from rungproof.logic.engines.compiled_loop import largest_over
from rungproof.logic.engines.compiled_writer import Lines
from rungproof.logic.engines.lanes_writer import DTYPES, STEMS, Constants, Registers, Section
from rungproof.logic.steps.controller import ELAPSED
from rungproof.logic.steps.monitors import INSTANT
from rungproof.logic.steps.node import OFF, ON, Node, constant, variable
from rungproof.logic.steps.run_plan import FIRST, MonitorPlan, RunPlan, Shape

_OWN = {FIRST: "first", variable(ELAPSED, "int"): "elapsed", variable(INSTANT, "int"): "since"}

#: The run's own arrays, beside those of the plan: name -> (kind, start).
_ARRAYS = {
    "first": ("b", False),
    "elapsed": ("i", 0),
    "since": ("i", 0),
    "mode": ("i", 0),
    "boundary": ("i", 0),
    "last": ("i", 0),
    "scans": ("i", 0),
    "looks": ("i", 0),
    "looked_at": ("i", 0),
    "broken": ("i", -1),
}
#: Stands for making all registers anew: how many there are is known at the end.
_BUFFERS = "BUFFERS"


def write_lanes(plan: RunPlan, shape: Shape) -> str:
    """The source of `run(lanes, np)`; `lanes` is a `lanes.Lanes`, which holds stories and results."""
    return _Run(plan, shape).write()


class _Run:
    def __init__(self, plan: RunPlan, shape: Shape) -> None:
        self.plan, self.shape = plan, shape
        self.lines, self.registers, self.constants = Lines(), Registers(), Constants()
        self.monitors = [*plan.requirements, *plan.assumptions]
        self.names: dict[Node, str] = dict(_OWN)
        self.arrays: dict[str, tuple[str, object]] = dict(_ARRAYS)
        for stem, nodes in (
            ("e", plan.environment),
            ("p", plan.plant_next),
            ("m", plan.memory_starts),
            ("v", plan.publish),
            ("n", plan.noise),
            ("w", [node for m in self.monitors for node in m.starts]),
        ):
            self._call(stem, nodes)
        for i, _ in enumerate(plan.requirements):
            self.arrays |= {f"bad{i}": ("i", -1), f"came{i}": ("i", 0)}
        if not plan.has_plant:
            self.arrays["t"] = ("i", 0)

    def _call(self, stem: str, nodes: Iterable[Node]) -> None:
        starts = {**self.plan.starts, **self.plan.memory_starts}
        for monitor in self.monitors:
            starts.update(monitor.starts)
        for index, node in enumerate(nodes):
            self.names[node] = f"{stem}{index}"
            if stem != "e":
                self.arrays[f"{stem}{index}"] = (STEMS[node.type], constant(starts.get(node, 0)).value)

    def _section(self, more: Mapping[Node, str] | None = None) -> Section:
        return Section(self.lines, {**self.names, **(more or {})}, self.registers, self.constants)

    # ------------------------------------------------------------------ the run

    def write(self) -> str:
        """The loop first, for only then the registers and constants are known that it needs."""
        self.lines.depth = 1
        self.lines.open("while True:")
        self._events()
        if self.plan.publish:
            self._scan_ends()
        self._hold()
        self._observe()
        self._leave()
        if self.plan.publish:
            self._scan_begins()
        self._tick()
        body = [line for each in self.lines.text for line in self._expanded(each)]
        self.lines = Lines()
        self._begin()
        return "\n".join([*self.lines.text, *body]) + "\n"

    def _begin(self) -> None:
        lines = self.lines
        lines.open("def run(lanes, np):")
        for line in self.constants.lines():
            lines.add(line)
        lines.add("OFF, STOPPED, RUNNING = 0, 1, 2")
        lines.add("n = lanes.count")
        for name, (kind, start) in self.arrays.items():
            lines.add(f"{name} = np.full(n, {start!r}, np.{DTYPES[kind]})")
        for line in self._buffers():
            lines.add(line)
        if self.plan.has_plant:
            lines.add("t = 0")
        lines.add("stale = True; turn = any_scan = False; next_boundary = 0")
        lines.add("halt = np.zeros(n, np.bool_); halted = False")
        self._take_environment()

    def _buffers(self) -> list[str]:
        return [f"{name} = np.empty(n, np.{DTYPES[name[0]]})" for name in self.registers.all()]

    def _expanded(self, line: str) -> list[str]:
        """A line, or all registers made anew where lanes have left."""
        if line.strip() != _BUFFERS:
            return [line]
        return [line.replace(_BUFFERS, each) for each in self._buffers()]

    def _take_environment(self) -> None:
        if self.plan.environment:
            self.lines.add(f"{', '.join(self.names[n] for n in self.plan.environment)}, = lanes.environment")

    # ---------------------------------------------------------------- 1 events

    def _events(self) -> None:
        self.lines.open("if lanes.happens(t):")
        self.lines.add("stale = True")
        self.lines.close()
        for node, (key, every) in self.plan.noise.items():
            self.lines.add(f"if t % {every} == 0: {self.names[node]} = lanes.draw({stream_of(key)}, t // {every})")

    def _hold(self) -> None:
        """What stands still until the next event or the next scan's end, worked out then only."""
        plan = self.plan
        still = {*plan.environment, *plan.publish}
        roots = [*plan.plant_next.values(), *self._of(self._watchers("tick"))]
        found = [node for node in largest_over(still, roots) if node not in self.names]
        self.lines.open("if stale:")
        self.lines.add("stale = False")
        section = self._section()
        section.work_out(found)
        for index, node in enumerate(found):
            name = f"h{index}"
            self.arrays[name] = (STEMS[node.type], constant(0).value)
            self.lines.add(f"np.copyto({name}, {section.text(node)})")
            self.names[node] = name
        section.release()
        self.lines.close()

    def _of(self, monitors: Iterable[MonitorPlan]) -> list[Node]:
        return [node for m in monitors for node in (*m.next.values(), *m.outputs.values())]

    def _watchers(self, instants: str) -> list[MonitorPlan]:
        return [m for m in self.monitors if m.instants == instants]

    # ---------------------------------------------------------- 3 a scan ends

    def _scan_ends(self) -> None:
        lines, plan = self.lines, self.plan
        lines.add("any_scan = False")
        lines.add("turn = t >= next_boundary" if plan.has_plant else "turn = True")
        lines.open("if turn:")
        lines.add("at = boundary == t")
        section = self._section()
        section.work_out([plan.powered, plan.stopped])
        lines.add(f"powered = np.broadcast_to({section.text(plan.powered)}, n)")
        lines.add(f"stopped = np.broadcast_to({section.text(plan.stopped)}, n)")
        lines.add("runs = powered & ~stopped")
        section.release()
        lines.add("begins = at & runs; was_running = mode == RUNNING")
        lines.add("ends = begins & was_running; starts_up = begins & ~was_running")
        lines.add("goes_off = at & ~powered & (mode != OFF)")
        lines.add("stops = at & powered & stopped & (mode != STOPPED)")
        lines.add("changes = goes_off | stops")
        lines.add("at_scan = ends | starts_up | changes")
        lines.add("at_scan &= t > 0")
        lines.add("any_scan = bool(at_scan.any())")
        self._masked("ends", plan.publish)
        lines.open("if changes.any():")
        self._masked("goes_off", plan.when_off)
        self._masked("stops", plan.when_stopped)
        lost = {n: constant(v) for n, v in plan.memory_starts.items() if n not in plan.retained}
        self._masked("changes", lost)
        lines.close()
        lines.add("mode[begins] = RUNNING; mode[goes_off] = OFF; mode[stops] = STOPPED")
        lines.add("if any_scan: stale = True")
        lines.close()

    def _masked(self, mask: str, values: Mapping[Node, Node]) -> None:
        """All of `values` become at once, in the lanes of `mask`."""
        section = self._section()
        section.work_out([value for value in values.values() if value.operands])
        saved = self._saved(section, values)
        for node, value in values.items():
            if node is not value:
                source = saved.get(value, "") or section.text(value)
                self.lines.add(f"np.copyto({self.names[node]}, {source}, where={mask})")
        section.release()
        for name in saved.values():
            self.registers.give(name)

    def _saved(self, section: Section, values: Mapping[Node, Node]) -> dict[Node, str]:
        """Copies of old values that others take over while they themselves change."""
        saved: dict[Node, str] = {}
        for node, value in values.items():
            if value in values and value is not node and value not in saved:
                saved[value] = self.registers.take(value.type)
                self.lines.add(f"np.copyto({saved[value]}, {section.text(value)})")
        return saved

    # -------------------------------------------------------------- 4 monitors

    def _observe(self) -> None:
        lines = self.lines
        if self.plan.publish:
            lines.open("if any_scan:")
            lines.add("before = looked_at.copy()")
            lines.add("np.subtract(t, looked_at, out=since)")
            lines.add("np.copyto(looked_at, t, where=at_scan)")
            self._assume("scan", "at_scan")
            lines.close()
        ticks = self.plan.has_plant
        if ticks and [m for m in self.plan.assumptions if m.instants == "tick"]:
            lines.open("if t:")
            self._assume("tick", "None")
            lines.close()
        if self.plan.publish:
            lines.open("if any_scan:")
            lines.add("if halted: at_scan = at_scan & (broken < 0)")
            lines.add("looks += at_scan")
            self._judge("scan")
            lines.close()
        if ticks and [m for m in self.plan.requirements if m.instants == "tick"]:
            lines.open("if t:")
            lines.add("looking = broken < 0 if halted else None")
            self._judge("tick")
            lines.close()

    def _assume(self, instants: str, mask: str) -> None:
        members = [(i, m) for i, m in enumerate(self.plan.assumptions) if m.instants == instants]
        for index, monitor in members:
            section = self._section()
            holds = monitor.outputs["holds"]
            section.work_out([holds, *monitor.next.values()])
            self.lines.add(f"halted = lanes.breaks({index}, {section.text(holds)}, {mask}, broken, halt) or halted")
            self._remember(section, monitor.next, "at_scan" if instants == "scan" else "")

    def _judge(self, instants: str) -> None:
        mask = "at_scan" if instants == "scan" else "looking"
        for index, monitor in enumerate(self.plan.requirements):
            if monitor.instants != instants:
                continue
            section = self._section()
            violated, triggered = monitor.outputs["violated"], monitor.outputs["triggered"]
            section.work_out([violated, triggered, *monitor.next.values()])
            if violated is not OFF:
                stop = ", halt" if self.shape.stop_at_violation else ""
                call = f"lanes.violates({section.text(violated)}, {mask}, bad{index}, t{stop})"
                self.lines.add(f"if {call}: halted = True" if stop else call)
            if triggered not in (ON, OFF):
                self.lines.add(f"lanes.counts({section.text(triggered)}, {mask}, came{index})")
            self._remember(section, monitor.next, "at_scan" if instants == "scan" else "")

    def _remember(self, section: Section, values: Mapping[Node, Node], mask: str) -> None:
        """A monitor's next state: under a mask by copies, else by exchanging buffers."""
        if not mask:
            self._exchange(section, values)
            return
        saved = self._saved(section, values)
        for node, value in values.items():
            if node is not value:
                source = saved.get(value, "") or section.text(value)
                self.lines.add(f"np.copyto({self.names[node]}, {source}, where={mask})")
        section.release()
        for name in saved.values():
            self.registers.give(name)

    def _exchange(self, section: Section, values: Mapping[Node, Node]) -> None:
        """All of `values` become at once: each new value's buffer changes places with the old one's."""
        taken: list[str] = []
        used: set[str] = set()
        pairs: list[tuple[str, str]] = []
        for node, value in values.items():
            if node is value:
                continue
            source = section.owned.get(value)
            if source is None or source in used:
                source = self.registers.take(node.type)
                taken.append(source)
                self.lines.add(f"np.copyto({source}, {section.text(value)})")
            used.add(source)
            pairs.append((self.names[node], source))
        for name, source in pairs:
            self.lines.add(f"{name}, {source} = {source}, {name}")
        section.release()
        for source in taken:
            self.registers.give(source)

    # ----------------------------------------------------------- lanes that end

    def _leave(self) -> None:
        lines, plan = self.lines, self.plan
        lines.open("if halted or lanes.ends(t):")
        lines.add("leaving = halt | (lanes.durations <= t)")
        lines.open("if leaving.any():")
        section = self._section()
        opens = [m.outputs["open"] for m in plan.requirements]
        found = [*plan.tags.values(), *plan.look.values(), *opens]
        section.work_out(found)
        shown = "".join(f"{section.text(each)}, " for each in found)
        judged = "".join(f"bad{i}, came{i}, " for i, _ in enumerate(plan.requirements))
        before = f"t - {plan.tick}" if plan.has_plant else "(before if any_scan else looked_at)"
        now = "t" if plan.has_plant else "looked_at"
        lines.add(f"ended = np.where(broken >= 0, {before}, {now})")
        lines.add(f"lanes.leave(leaving, t, (ended, scans, broken, looks), ({judged}), ({shown}))")
        section.release()
        lines.add("keep = ~leaving")
        lines.add("n = lanes.close_up(keep)")
        lines.add("if n == 0: return")
        for name in self.arrays:
            lines.add(f"{name} = {name}[keep]")
        self._take_environment()
        lines.add("halt = halt[keep]; halted = False; stale = True")
        if plan.publish:
            lines.add("if turn: begins, starts_up, at, runs = begins[keep], starts_up[keep], at[keep], runs[keep]")
        lines.add(_BUFFERS)
        for _ in range(2):
            lines.close()

    # -------------------------------------------------------- 5 a scan begins

    def _scan_begins(self) -> None:
        lines, plan = self.lines, self.plan
        lines.open("if turn:")
        lines.open("if begins.any():")
        lines.add("np.copyto(first, starts_up, where=begins)")
        lines.add("np.copyto(elapsed, last); elapsed[starts_up] = 0")
        self._masked("begins", plan.memory_next)
        lines.add("length = lanes.lengths(scans)")
        lines.add("np.copyto(last, length, where=begins)")
        lines.add("np.copyto(boundary, t + length, where=begins)")
        lines.add("scans += begins")
        lines.close()
        lines.add("pauses = at & ~runs")
        wait = f"t + {plan.tick}" if plan.has_plant else "np.minimum(lanes.due, lanes.durations)"
        lines.add(f"if pauses.any(): np.copyto(boundary, {wait}, where=pauses)")
        lines.add("next_boundary = int(boundary.min())")
        lines.close()

    # ------------------------------------------------- 6, 7 circuits and plant

    def _tick(self) -> None:
        if not self.plan.has_plant:
            self.lines.add("t = boundary.copy()")
            return
        section = self._section()
        section.work_out(list(self.plan.plant_next.values()))
        self._exchange(section, self.plan.plant_next)
        self.lines.add(f"t += {self.plan.tick}")
