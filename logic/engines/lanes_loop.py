"""The source of a run of many lanes: the loop of `contract.py` over words and arrays.

With a plant all lanes share the clock, and a lane's scan boundary is its own; without a plant
every lane has its own clock and each turn of the loop is one boundary of each. A lane that has
ended runs on unheeded until so many have that it pays to close up.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rungproof.logic.engines.chance import stream_of
from rungproof.logic.engines.compiled_writer import leaves
from rungproof.logic.engines.lanes_frame import OWN, SINCE, Frame
from rungproof.logic.engines.lanes_moves import moves
from rungproof.logic.engines.lanes_scans import scan_begins, scan_ends
from rungproof.logic.engines.lanes_source import DTYPES, STEMS
from rungproof.logic.engines.lanes_writer import CALLS, COMPARISONS, Section
from rungproof.logic.steps.margins import NEAREST
from rungproof.logic.steps.narrow import Facts
from rungproof.logic.steps.node import OFF, ON, Node, constant, ordered
from rungproof.logic.steps.run_plan import MonitorPlan, RunPlan, Shape

#: The run's own words and arrays, beside those of the plan.
_WORDS = ("first", "running", "standing")
_ARRAYS = ("elapsed", "since", "boundary", "last", "looked_at")


def write_lanes(plan: RunPlan, facts: Facts, shape: Shape) -> str:
    """The source of `run(lanes, np)`; `lanes` is a `lanes_chunk.Chunk`, which holds stories and results."""
    return _Run(plan, facts, shape).write()


class _Run(Frame):
    def __init__(self, plan: RunPlan, facts: Facts, shape: Shape) -> None:
        super().__init__(plan, facts, shape)
        self.now = self.section()

    # ------------------------------------------------------------------ the run

    def write(self) -> str:
        """The loop first, for only then it is known which registers, constants and masks it needs."""
        lines = self.lines
        lines.depth = 1
        lines.open("while True:")
        lines.add("news = lanes.happens(t)")
        lines.open("if news:")
        lines.add(f"stale = stale or news > 1; {self._environment()}")
        lines.close()
        for node, (key, every) in self.plan.noise.items():
            lines.add(f"if t % {every} == 0: {self.names[node]} = lanes.draw({stream_of(key)}, t // {every})")
        for index, age in enumerate(self.plan.ages.values()):
            if age.past:
                lines.add(f"{', '.join(self.names[truth] for truth in age.past)}, = age{index}.come(t)")
        if self.plan.publish:
            scan_ends(self)
        self._hold()
        self._observe()
        self._leave()
        if self.plan.publish:
            scan_begins(self)
        self._tick()
        self._close_up()
        body, lines.text = lines.text, []
        self._begin()
        return "\n".join([*lines.text, *body]) + "\n"

    def _environment(self) -> str:
        return (
            f"{', '.join(self.names[n] for n in self.plan.environment)}, = lanes.environment"
            if (self.plan.environment)
            else "pass"
        )

    def _begin(self) -> None:
        """What stands before the loop; it is written last."""
        lines, plan = self.lines, self.plan
        lines.depth = 0
        lines.open("def run(lanes, np):")
        calls = [*CALLS.values(), *COMPARISONS.values(), "minimum", "maximum", "sqrt", "copyto"]
        lines.add("; ".join(f"{name} = np.{name}" for name in calls))
        lines.add("put = np.putmask")
        for node, name in self.source.constants.items():
            lines.add(f"{name} = np.array({node.value!r}, np.{DTYPES[STEMS[node.type]]})")
        lines.add("ones, octets = lanes.ones, lanes.octets; n = 8 * octets; live = lanes.live")
        for node, name in self.names.items():
            if node not in OWN and node not in plan.environment and name not in self.held:
                lines.add(f"{name} = {self._start(node)}")
        for name in _ARRAYS:
            lines.add(f"{name} = np.zeros(n, np.int64)")
        for line in self._buffers():
            lines.add(line)
        lines.add(f"{' = '.join(_WORDS)} = halt = stop = at_scan = look = 0")
        lines.add(f"t = {'0' if plan.has_plant else 'boundary.copy()'}; before = looked_at")
        steady = plan.has_plant and plan.hung is OFF and plan.overruns is OFF
        beat = "lanes.beat" if steady else "0"
        lines.add(f"turn = begun = False; stale = spread = True; next_boundary = 0; beat = {beat}; last.fill(beat)")
        for i, _ in enumerate(plan.requirements):
            lines.add(f"came{i} = lanes.came[{i}].add")
        for index, age in enumerate(plan.ages.values()):
            lines.add(f"age{index} = lanes.age({tuple(age.past.values())!r}, {age.limit})")
        lines.add(f"lanes.heed(frozenset({self.heeded!r})); {self._environment()}")

    def _start(self, node: Node) -> str:
        value = constant(self.starts.get(node, 0.0)).value
        if self.source.alike.get(node):
            return repr(value)
        if node.type == "bool":
            return "ones" if value else "0"
        return f"np.full(n, {value!r}, np.{DTYPES[STEMS[node.type]]})"

    def _buffers(self) -> list[str]:
        """Registers, held values, constants as wide as the lanes: made anew when lanes close up."""
        made = [f"{name} = np.empty(n, np.{DTYPES[name[0]]})" for name in self.source.registers.all()]
        made += [f"{name} = np.empty(n, np.{DTYPES[stem]})" for name, stem in self.held.items() if stem != "b"]
        made += [
            f"{name} = np.full(n, {node.value!r}, np.{DTYPES[STEMS[node.type]]})"
            for node, name in self.source.wide.items()
        ]
        kept = [f"kept{index}" for index in range(len(self.source.masks))]
        return [*made, f"{' = '.join(kept)} = -1"] if kept else made

    # ------------------------------------------------------- what stands still

    def _hold(self) -> None:
        """Numbers that stand still until the next event or the next scan's end, worked out then only."""
        plan = self.plan
        roots = [*plan.plant_next.values(), *self._of(self.watchers("tick"))]
        found = self._still({*plan.environment, *plan.publish}, roots)
        if not found:
            return
        self.lines.open("if stale:")
        self.lines.add("stale = False")
        section = self.section()
        section.work_out(found)
        for index, node in enumerate(found):
            name = f"h{index}"
            self.held[name] = STEMS[node.type]
            if node.type == "bool":
                self.lines.add(f"{name} = {section.word(node)}")
            else:
                self.lines.add(f"copyto({name}, {section.number(node)})")
            self.names[node] = name
        section.release()
        self.lines.close()
        read = leaves(found)
        self.heeded = [slot for slot, node in enumerate(plan.environment) if node in read]

    def _still(self, still: set[Node], roots: Sequence[Node]) -> list[Node]:
        """The largest numbers and comparisons over `still` variables, among what `roots` need."""
        order = ordered(roots)
        inside: set[Node] = set()
        for node in order:
            known = all(o in inside or o.operator == "constant" for o in node.operands)
            if node in still or (node.operands and known):
                inside.add(node)
        found = {
            o: None for node in order for o in node.operands if o in inside and (node not in inside or _logical(node))
        }
        found |= dict.fromkeys(root for root in roots if root in inside)
        return [node for node in found if node.operands and not _logical(node) and not self.source.is_alike(node)]

    def _of(self, monitors: Iterable[MonitorPlan]) -> list[Node]:
        return [node for m in monitors for node in (*m.next.values(), *m.outputs.values())]

    # -------------------------------------------------------------- 4 monitors

    def _observe(self) -> None:
        """What ticks need is worked out here, monitors and plant together, for they share much."""
        lines, plan = self.lines, self.plan
        self.now = self.section()
        ticks = self.watchers("tick") if plan.has_plant else []
        values, outputs = self._asked(ticks)
        outputs += [age.rests for age in plan.ages.values()]
        self.plant_moves = moves(self.now, plan.plant_next, [*outputs, *values.values()])
        watch_moves = moves(self.now, values, [*outputs, *plan.plant_next.values()])
        roots = [*outputs, *watch_moves.roots, *self.plant_moves.roots]
        self.now.work_out(roots, [*watch_moves.conditional, *self.plant_moves.conditional])
        if plan.publish:
            self._look_at_scans()
        if ticks:
            lines.open("if t:")
            self._assume(self.now, ticks)
            lines.close()
        if plan.publish:
            lines.open("if at_scan:")
            lines.add("look = at_scan & live & (halt ^ ones); lanes.looks.add(look)")
            self._judge(self.at_scan, self.watchers("scan"))
            self.scan_moves.write("at_scan")
            self.at_scan.release()
            lines.close()
        if ticks:
            lines.open("if t:")
            lines.add("look = live & (halt ^ ones)")
            self._judge(self.now, ticks)
            for index, age in enumerate(plan.ages.values()):
                lines.add(f"age{index}.rest({self.now.word(age.rests)}, t)")
            watch_moves.write()
            lines.close()

    def _look_at_scans(self) -> None:
        """What monitors see where a scan ends, or where the controller's mode changes; their assumptions."""
        lines, watchers = self.lines, self.watchers("scan")
        values, outputs = self._asked(watchers)
        lines.open("if at_scan:")
        if not self.plan.has_plant:
            lines.add("before = looked_at.copy()")
        if not self.plan.has_plant or SINCE in leaves([*values.values(), *outputs]):
            lines.add("np.subtract(t, looked_at, since)")
            lines.add(f"put(looked_at, {self.source.refresh('at_scan', 'at_scan')}, t)")
        self.at_scan = Section(self.source, self._known_now())
        self.scan_moves = moves(self.at_scan, values, outputs)
        self.at_scan.work_out([*outputs, *self.scan_moves.roots], self.scan_moves.conditional)
        self._assume(self.at_scan, watchers)
        lines.close()

    def _asked(self, watchers: Sequence[MonitorPlan]) -> tuple[dict[Node, Node], list[Node]]:
        """What monitors become, and what they show at an instant."""
        values = {node: value for monitor in watchers for node, value in monitor.next.items()}
        return values, [m.outputs[name] for m in watchers for name in m.outputs if name not in ("open", NEAREST)]

    def _known_now(self) -> dict[Node, str]:
        """What this instant's section has worked out in any case and still holds."""
        now = self.now
        words = (
            node
            for node in now.names
            if node.type == "bool" and not now.guards.get(node) and (_logical(node) or node in now.as_word)
        )
        return {node: now.names[node] for node in (*self.names, *now.owned, *words) if node in now.names}

    def _assume(self, section: Section, watchers: Sequence[MonitorPlan]) -> None:
        """Where an assumption breaks, no requirement is looked at any more."""
        for index, monitor in enumerate(self.plan.assumptions):
            if monitor in watchers and monitor.outputs["holds"] is not ON:
                within = "at_scan & live" if monitor.instants == "scan" else "live"
                self.lines.add(f"broke = ({section.word(monitor.outputs['holds'])} ^ ones) & {within}")
                self.lines.add(f"if broke: halt |= broke; lanes.breaks({index}, broke, t)")

    def _judge(self, section: Section, watchers: Sequence[MonitorPlan]) -> None:
        lines, stops = self.lines, "stop |= " if self.shape.stop_at_violation else ""
        for index, monitor in enumerate(self.plan.requirements):
            if monitor not in watchers:
                continue
            violated, triggered = monitor.outputs["violated"], monitor.outputs["triggered"]
            if violated is not OFF:
                lines.add(f"bad = {section.word(violated)} & look")
                lines.add(f"if bad: {stops}lanes.violates({index}, bad, t)")
            if triggered not in (ON, OFF):
                lines.add(f"came{index}({section.word(triggered)} & look)")

    # ----------------------------------------------------------- lanes that end

    def _leave(self) -> None:
        lines, plan = self.lines, self.plan
        lines.open("if halt or stop or lanes.ends(t):")
        lines.add("gone = (halt | stop | lanes.over(t)) & live")
        lines.open("if gone:")
        section = self.section()
        for index, node in enumerate(plan.ages):
            section.names[node] = f"age{index}.ages(t, octets)"
        shown = [*plan.tags.values(), *plan.look.values(), *(m.outputs["open"] for m in plan.requirements)]
        shown += [m.outputs[NEAREST] for m in plan.requirements if NEAREST in m.outputs]
        section.work_out(shown)
        told = "".join(f"{self._told(section, node)}, " for node in shown)
        times = f"t, t - {plan.tick}, t" if plan.has_plant else "t, before if at_scan else looked_at, looked_at"
        lines.add(f"lanes.leave(gone, {times}, ({told}))")
        section.release()
        lines.add("live = lanes.live; halt = stop = 0")
        lines.add("if not live: return")
        lines.close()
        lines.close()

    def _told(self, section: Section, node: Node) -> str:
        if self.source.is_alike(node):
            return section.plain(node)
        return f"mask_of({section.word(node)}, octets)" if node.type == "bool" else section.number(node)

    # ------------------------------------------------- 6, 7 circuits and plant

    def _tick(self) -> None:
        self.lines.add("begun = True")
        if not self.plan.has_plant:
            self.lines.add("copyto(t, boundary)")
            return
        self.plant_moves.write()
        self.now.release()
        self.lines.add(f"t += {self.plan.tick}")

    def _close_up(self) -> None:
        """Go on without the lanes that have ended, once they are many."""
        lines = self.lines
        lines.open("if lanes.idle:")
        lines.add("old, keep = octets, lanes.close_up()")
        lines.add("ones, octets, live = lanes.ones, lanes.octets, lanes.live; n = 8 * octets")
        arrays, words = list(_ARRAYS), list(_WORDS)
        for node, name in self.names.items():
            if node in OWN or node in self.plan.environment or self.source.alike.get(node) or name in self.held:
                continue
            (words if node.type == "bool" else arrays).append(name)
        if not self.plan.has_plant:
            arrays.append("t")
        for name in arrays:
            lines.add(f"{name} = {name}[keep]")
        for name in words:
            lines.add(f"{name} = squeezed({name}, old, keep)")
        for line in self._buffers():
            lines.add(line)
        lines.add(f"before = looked_at; stale = True; {self._environment()}")
        lines.close()


def _logical(node: Node) -> bool:
    """Whether a truth is worked out from truths alone."""
    return node.type == "bool" and all(each.type == "bool" for each in node.operands)
