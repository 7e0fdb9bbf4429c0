"""The source of one run: a whole run as one Python function over local variables.

The loop follows `contract.py`, with the same numbers in its comments. What depends on the
environment alone is worked out when an event comes; what depends on it and on what the
controller last published, when one of the two changed; the rest at every tick.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from rungproof.logic.engines.chance import stream_of
from rungproof.logic.engines.compiled_watch import Watch
from rungproof.logic.engines.compiled_writer import Block, Lines, Update, literal
from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.steps.controller import ELAPSED
from rungproof.logic.steps.monitors import INSTANT
from rungproof.logic.steps.node import OFF, Node, both, constant, inverse, ordered, variable
from rungproof.logic.steps.run_plan import FIRST, RunPlan, Shape, lost_with_power

#: The run's own locals, for the variables that are no state of anything.
_OWN = {FIRST: "first", variable(ELAPSED, "int"): "elapsed", variable(INSTANT, "int"): "since"}


def write_run(plan: RunPlan, shape: Shape) -> str:
    """The source of `run(env, events, lengths, duration, draw, rows, starts)`."""
    return _Run(plan, shape).write()


class _Run:
    def __init__(self, plan: RunPlan, shape: Shape) -> None:
        self.plan, self.shape = plan, shape
        self.lines = Lines()
        self.watch = Watch(plan, shape, self.lines)
        self.names: dict[Node, str] = dict(_OWN)
        self._call("e", plan.environment)
        self._call("p", plan.plant_next)
        self._call("m", plan.memory_starts)
        self._call("v", plan.publish)
        self._call("n", plan.noise)
        self._call("w", [node for m in self.watch.monitors for node in m.starts])
        self.has_controller = bool(plan.publish)

    def _call(self, stem: str, nodes: Iterable[Node]) -> None:
        self.names.update({node: f"{stem}{index}" for index, node in enumerate(nodes)})

    def write(self) -> str:
        lines = self.lines
        lines.add("OFF, STOPPED, RUNNING = 0, 1, 2")
        forks = self.shape.forks
        lines.open(f"def run(env, events, lengths, duration, draw, rows, starts{', kept, fork_at' if forks else ''}):")
        self._begin()
        lines.open("while True:")
        if forks:
            lines.add(f"if t == fork_at: return ({', '.join(self._locals())})")
        block = Block(lines, self.names)
        self._events(block)
        if self.has_controller:
            self._share_with_conditions(block)
            self._scan_ends(block)
            self._held(block)
        self.watch.write(block)
        lines.add("if t >= duration: break")
        if self.has_controller:
            self._scan_begins(block)
        self._tick(block)
        lines.close()
        self._end()
        lines.close()
        return "\n".join(lines.text) + "\n"

    def _begin(self) -> None:
        lines, plan = self.lines, self.plan
        starts = {**plan.starts, **plan.memory_starts}
        for monitor in self.watch.monitors:
            starts.update(monitor.starts)
        for node, value in starts.items():
            if node in self.names:
                lines.add(f"{self.names[node]} = {literal(constant(value))}")
        lines.add("t = boundary = last = scans = elapsed = due = 0")
        lines.add("mode = OFF; first = fresh = go = at_scan = False")
        lines.add("pending = iter(events)")
        lines.add("event = next(pending)")
        for node in plan.noise:
            lines.add(f"{self.names[node]} = 0.0")
        self.watch.begin()
        if self.shape.forks:
            lines.add(f"if kept is not None: {', '.join(self._locals())} = kept")

    def _locals(self) -> list[str]:
        """Everything that a run carries from one instant to the next; time and scans begun stand first."""
        plan = self.plan
        states = [*plan.starts, *plan.memory_starts, *plan.noise, *(n for m in self.watch.monitors for n in m.starts)]
        known = dict.fromkeys(self.names[node] for node in states if node in self.names)
        own = ["t", "scans", "boundary", "last", "elapsed", "mode", "first", "fresh", "go", "at_scan"]
        return [*own, *self.watch.carried(), *known]

    # ---------------------------------------------------------------- 1 events

    def _events(self, block: Block) -> None:
        lines, environment = self.lines, self.plan.environment
        lines.open("if due <= t:")
        lines.open("while event[0] <= t:")
        lines.add("env[event[1]] = event[2]")
        lines.add("event = next(pending)")
        lines.close()
        lines.add("due = event[0]")
        if environment:
            lines.add(f"{', '.join(self.names[n] for n in environment)}, = env")
        block.share([], largest_over(set(environment), self._all_roots()))
        if self.has_controller:
            lines.add("stale = True")
        lines.close()

    def _all_roots(self) -> list[Node]:
        plan = self.plan
        return [
            plan.powered,
            plan.stopped,
            plan.hung,
            plan.overruns,
            *plan.memory_next.values(),
            *self._every_tick(),
            *self.watch.at_scans(),
        ]

    def _every_tick(self) -> list[Node]:
        return [*self.plan.plant_next.values(), *self.watch.at_ticks()]

    def _share_with_conditions(self, block: Block) -> None:
        """What every tick works out anyway, worked out before the conditions that need it too."""
        always = self._fixed(ordered(self._every_tick()))
        sometimes = [
            self.plan.powered,
            self.plan.stopped,
            self.plan.hung,
            *self.plan.memory_next.values(),
            *self.watch.at_scans(),
        ]
        block.share([], [node for node in _tops(always, sometimes) if node not in block.names])

    def _fixed(self, order: Iterable[Node]) -> set[Node]:
        """Those of `order` that a scan's end does not change."""
        changing = {*self.plan.publish, *self.plan.memory_starts, *self.plan.noise, *_OWN}
        changing.update(node for m in self.watch.monitors for node in m.starts)
        fixed: set[Node] = set()
        for node in order:
            if node not in changing and all(o in fixed for o in node.operands):
                fixed.add(node)
        return fixed

    # ---------------------------------------------------------- 3 a scan ends

    def _scan_ends(self, block: Block) -> None:
        lines, plan = self.lines, self.plan
        lines.add("at_scan = False")
        lines.open("if t == boundary:")
        inner = block.inner()
        runs = both(plan.powered, inverse(plan.stopped), inverse(plan.hung))
        hangs = both(plan.powered, inverse(plan.stopped), plan.hung)
        inner.share([runs, plan.powered, hangs])
        lines.add(f"go = {inner.write(runs)}")
        lines.open("if go and mode == RUNNING:")
        lines.add("at_scan = stale = True")
        self._move(inner, plan.publish)
        lines.close()
        lines.open("elif go:")
        lines.add("mode = RUNNING; fresh = True; at_scan = t > 0")
        lines.close()
        lines.open("else:" if plan.hung is OFF else f"elif not ({inner.write(hangs)}):")
        lines.add(f"now = STOPPED if {inner.write(plan.powered)} else OFF")
        lines.open("if now != mode:")
        lines.add("mode = now; stale = True; at_scan = t > 0")
        lines.open("if now == OFF:")
        self._move(inner, plan.when_off)
        if plan.memory_lost is not OFF:
            self._move(inner, lost_with_power(plan))
        lines.close()
        lines.open("else:")
        self._move(inner, plan.when_stopped)
        lines.close()
        self._move(inner, {n: constant(v) for n, v in plan.memory_starts.items() if n not in plan.retained})
        for _ in range(3):
            lines.close()

    def _move(self, block: Block, values: Mapping[Node, Node]) -> None:
        inner = block.inner()
        inner.share(list(values.values()))
        inner.update([Update(self.names[node], value) for node, value in values.items()])
        self.lines.add("pass")

    def _held(self, block: Block) -> None:
        """What stands still until the next event or the next scan's end."""
        still = {*self.plan.environment, *self.plan.publish}
        found = [n for n in largest_over(still, self._every_tick()) if n not in block.names]
        if found:
            self.lines.open("if stale:")
            block.share([], found)
            self.lines.add("stale = False")
            self.lines.close()

    # -------------------------------------------------------- 5 a scan begins

    def _scan_begins(self, block: Block) -> None:
        lines, plan = self.lines, self.plan
        lines.open("if t == boundary:")
        lines.open("if go:")
        lines.add("first = fresh; fresh = False")
        lines.add("elapsed = 0 if first else last")
        if self.shape.record:
            lines.add("starts.append(t)")
        self._move(block, plan.memory_next)
        lines.add("last = next(lengths)")
        if plan.overruns is not OFF:
            lines.add(f"if {block.write(plan.overruns)}: last *= {OVERRUN}")
        lines.add("scans += 1")
        lines.add("boundary = t + last")
        lines.close()
        lines.open("else:")
        alone = "boundary = due if due < duration else duration"
        lines.add(f"boundary = t + {plan.tick}" if plan.has_plant else alone)
        if plan.hung is not OFF:
            lines.add("if mode == RUNNING: last += boundary - t")
        lines.close()
        lines.close()

    # ------------------------------------------------- 6, 7 circuits and plant

    def _tick(self, block: Block) -> None:
        lines, plan = self.lines, self.plan
        if not plan.has_plant:
            lines.add("t = boundary")
            return
        for node, (key, every) in plan.noise.items():
            lines.open(f"if t % {every} == 0:")
            lines.add(f"{self.names[node]} = draw({stream_of(key)}, t // {every})")
            lines.close()
        self._move(block, plan.plant_next)
        lines.add(f"t += {plan.tick}")

    def _end(self) -> None:
        """Hand back what the run found; the look is worked out once more, at its last instant."""
        block = Block(self.lines, self.names)
        plan, lines = self.plan, self.lines
        block.names = {node: name for node, name in self.names.items() if not name.startswith("x")}
        if plan.has_plant:
            lines.add(f"ended = t if broken is None else t - {plan.tick}")
        else:
            lines.add("ended = looked_at - since if broken is not None and at_scan else looked_at")
        lines.add("looks -= at_scan and broken is not None")
        lines.add(f"ticks = ended // {plan.tick}")
        tags = self._tuple(block, plan.tags.values())
        look = self._tuple(block, plan.look.values())
        lines.add(f"return scans, {self.watch.result(block)}, {tags}, {look}")

    def _tuple(self, block: Block, nodes: Collection[Node]) -> str:
        block.share(list(nodes))
        return "(" + "".join(f"{block.write(node)}, " for node in nodes) + ")"


def largest_over(still: set[Node], roots: list[Node]) -> list[Node]:
    """The largest expressions over `still` variables alone, among what `roots` need."""
    inside: set[Node] = set()
    for node in ordered(roots):
        known = all(o in inside or o.operator == "constant" for o in node.operands)
        if node in still or (node.operands and known):
            inside.add(node)
    return [node for node in _tops(inside, roots) if node.operands]


def _tops(inside: set[Node], roots: list[Node]) -> list[Node]:
    """Those of `inside` that `roots`, or something outside, use directly."""
    found: dict[Node, None] = {}
    for node in ordered(roots):
        if node not in inside:
            found.update(dict.fromkeys(o for o in node.operands if o in inside))
    found.update(dict.fromkeys(root for root in roots if root in inside))
    return [node for node in found if node.operands]
