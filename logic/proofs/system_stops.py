"""The system of a requirement that must hold even with one fault: a stop of the controller may be it.

Power may go besides, and both may come and go in any order. So one transition is one instant: the
end of a scan, or a change from one way of not scanning to another. What is seen while the
controller does not scan is remembered: inputs as last read, terminals as left.
"""

from __future__ import annotations

from collections.abc import Iterable

from rungproof.logic.meaning.program import Tag
from rungproof.logic.proofs.system_builder import (
    ASSUMED,
    BAD,
    CUT,
    FIRST,
    LAST_SCAN,
    RUNNING,
    STOP,
    STOPPED,
    TRIGGERED,
    Builder,
    ScanBuilder,
    System,
    assumption_monitors,
)
from rungproof.logic.steps.controller import ELAPSED, POWER_UP, SCANNING, lower_scan, retained_names, start_of
from rungproof.logic.steps.monitors import lower_requirement
from rungproof.logic.steps.node import ON, Node, both, either, inverse, select, substitute, typed_constant, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step


class StopsScanBuilder(ScanBuilder):
    """A controller that scans, has no power, or is stopped."""

    def scanned(self, assumed: Iterable[Step]) -> tuple[dict[str, Node], Node]:
        seen, elapsed = self._moved()
        return seen, self._held_so_far(list(assumed), self._watched(list(assumed), seen, elapsed))

    def _moved(self) -> tuple[dict[str, Node], Node]:
        """Adds the controller; gives what is seen at the instant, and the ms since the one before."""
        length, outage = self._times(self._tick)
        running, stopped = variable(RUNNING, "bool"), variable(STOPPED, "bool")
        cut, stop = variable(CUT, "bool"), self._input(InputVariable(STOP, "bool"))
        # What would change nothing is no instant; there the controller runs again instead.
        self.off = both(cut, either(running, stopped))
        self.halt = both(inverse(cut), stop, either(running, inverse(stopped)))
        self.on = both(inverse(self.off), inverse(self.halt))
        self._state(StateVariable(RUNNING, "bool", True), self.on)
        self._state(StateVariable(STOPPED, "bool", False), self.halt)
        return self._scanned(length), select(running, length, outage)

    def _scanned(self, length: Node) -> dict[str, Node]:
        """Adds the controller; gives what is seen at the instant."""
        scan, running = lower_scan(self.controller), variable(RUNNING, "bool")
        whole = both(running, self.on)
        first = self._state(StateVariable(FIRST, "bool", True), inverse(whole))
        self._declare(scan)
        given = {variable(POWER_UP, "bool"): first, variable(ELAPSED, "int"): self._elapsed(first)}
        if LAST_SCAN in self.states:
            self.next[LAST_SCAN] = select(running, length, self.states[LAST_SCAN].node)
        became = substitute([*scan.next.values(), *scan.outputs.values()], given)
        kept = retained_names(self.controller)
        seen: dict[str, Node] = {POWER_UP: both(whole, first), SCANNING: whole}
        for name, state in scan.states.items():
            after = select(running, became[scan.next[name]], state.node) if name in scan.next else state.node
            lost = after if name in kept else typed_constant(state.type, state.start)
            self.next[name] = seen[name] = select(self.on, after, lost)
        for tag in self.controller.tags.values():
            if tag.role == "input":
                seen[tag.name] = self._read(tag)
            elif tag.role == "output":
                seen[tag.name] = self._held(tag, became[scan.outputs[tag.name]])
        return {name: node for name, node in seen.items() if name in scan.outputs or name in (POWER_UP, SCANNING)}

    def _read(self, tag: Tag) -> Node:
        """An input as last read."""
        each = self.range_of(tag)
        state = StateVariable(f"read:{tag.name}", tag.type, start_of(tag), each.low, each.high)
        after = select(variable(RUNNING, "bool"), each.node, state.node)
        self._state(state, after)
        return after

    def _held(self, tag: Tag, written: Node) -> Node:
        """An output as its terminal stands: nothing without power, `on stop` where it was stopped."""
        nothing = typed_constant(tag.type, 0)
        low, high = min(tag.low, 0), max(tag.high, 0)
        state = StateVariable(f"held:{tag.name}", tag.type, nothing.value, low, high)
        on_stop = state.node if tag.on_stop is None else typed_constant(tag.type, tag.on_stop)
        ran = select(variable(RUNNING, "bool"), written, state.node)
        after = select(self.off, nothing, select(self.halt, on_stop, ran))
        self._state(state, after)
        return after

    def _watched(self, monitors: list[Step], seen: dict[str, Node], elapsed: Node) -> dict[str, Node]:
        """Adds monitors; gives what they say."""
        looked = self._look(monitors, {}, seen, elapsed)
        for monitor in monitors:
            for key, state in monitor.states.items():
                self._state(state, looked[f"next {key}"])
        return looked

    def _held_so_far(self, assumed: list[Step], looked: dict[str, Node]) -> Node:
        """Whether every assumption has held."""
        holds = self._state(StateVariable(ASSUMED, "bool", True)) if assumed else ON
        holds = both(holds, *(looked[f"out {o}"] for each in assumed for o in each.outputs))
        if assumed:
            self.next[ASSUMED] = holds
        return holds


class StopsBuilder(StopsScanBuilder, Builder):
    """The system of a requirement that must hold even with one fault."""

    def build(self) -> System:
        name, assumed = self.requirement.name, assumption_monitors(self.program)
        seen, elapsed = self._moved()
        looked = self._watched([lower_requirement(self.requirement), *assumed], seen, elapsed)
        holds = self._held_so_far(assumed, looked)
        outputs = {
            BAD: both(holds, looked[f"out {name}/violated"]),
            TRIGGERED: both(holds, looked[f"out {name}/triggered"]),
        }
        return self._system(outputs, seen)
