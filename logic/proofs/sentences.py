"""Invariants as sentences: each clause in words over the author's own tags and stages."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rungproof.logic.checks.words import many, rounded, time_words
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.typed import EdgeOf, StageOutput, TagValue
from rungproof.logic.proofs.certificate_basis import parts_of
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.system import ASSUMED, FIRST, LAST_SCAN, RUNNING, STOPPED
from rungproof.logic.proofs.system_loop import WHICH
from rungproof.logic.proofs.system_plant import BEGUN
from rungproof.logic.steps.closed_loop import BEGUN as LOOP_BEGUN
from rungproof.logic.steps.closed_loop import LAST, LEFT
from rungproof.logic.steps.closed_loop import RUNNING as LOOP_RUNNING
from rungproof.logic.steps.closed_loop import STOPPED as LOOP_STOPPED

#: A bool of the prover's own: what it says on, and off.
_OWN = {
    FIRST: ("the next scan is the first after power-up", "the next scan is not the first after power-up"),
    ASSUMED: ("every assumption has held so far", "an assumption has been broken"),
    RUNNING: ("the controller scans", "the controller does not scan"),
    BEGUN: ("the first tick has passed", "the first tick has not passed"),
    STOPPED: ("the controller is stopped", "the controller is not stopped"),
    LOOP_BEGUN.name: ("the first tick has passed", "the first tick has not passed"),
    LOOP_RUNNING.name: ("the controller scans", "the controller does not scan"),
    LOOP_STOPPED.name: ("the controller is stopped", "the controller is not stopped"),
}
#: What the prover writes before the name of a tag as it was last read, or as its terminal stands.
_SEEN_AS = {
    "read:": "`{}` as last read",
    "held:": "the terminal of `{}`",
    "plant:": "`{}`",
    "memory:": "`{}` as the last scan left it",
    "seen:": "`{}` as the terminals show it",
}
#: A requirement's own memory: on, and off.
_MEMORY = {
    "open": ("an obligation of {} stands open", "no obligation of {} stands open"),
    "stands": ("the condition that {} times stands", "the condition that {} times does not stand"),
    "armed": ("{} is armed", "{} is not armed"),
    "seen": ("what {} must see first has come", "what {} must see first has not come"),
    "ran": ("{} looks already", "{} does not look yet"),
}
_AGES = {
    "age": "the time that {} counts",
    "waited": "the time that {} waits before it looks",
}


@dataclass(frozen=True)
class Sayer:
    """Says facts about the states of a proof in words."""

    program: Program

    def clause(self, clause: Clause) -> str:
        """`whenever A and B, C`; a fact alone as `always: A`. Tags come last: they are what is concluded."""
        if not clause:
            return "nothing can be: the invariant contradicts itself"
        *first, last = sorted(clause, key=lambda each: each.name in self._tags)
        if not first:
            return f"always: {self.fact(last)}"
        given = " and ".join(self.fact(-each) for each in first)
        return f"whenever {given}, {self.fact(last)}"

    def plain(self, clause: Clause) -> bool:
        """Whether a clause speaks of the author's names alone, each once, and not of what only the prover keeps."""
        names = [name for each in clause for name in (each.name, each.minus) if name]
        return bool(names) and len(set(names)) == len(names) and all(self._authors(name) for name in names)

    def _authors(self, name: str) -> bool:
        for mark in _SEEN_AS:
            name = name.removeprefix(mark)
        stem, _, part = name.rpartition("#")
        if stem in self._kinds:
            return part in ("out", "elapsed", "count", "powered")
        return name in self._tags or name in (ASSUMED, RUNNING, STOPPED) or name in self._shown

    def fact(self, each: Literal) -> str:
        if each.bound is None:
            return self._on_or_off(each.name, each.holds)
        if each.minus:
            return self._difference(each)
        return self._amount(each.name, each.bound, "at most" if each.holds else "more than")

    def _difference(self, each: Literal) -> str:
        """How far one number may be ahead of another: `x - y <= c`."""
        assert each.bound is not None, "a difference has a bound"
        one, other, bound = each.name, each.minus, int(each.bound)
        if not each.holds:
            # x - y > c is y - x <= -c - 1.
            one, other, bound = other, one, -bound - 1
        amount = self._span(one, abs(bound))
        if bound == 0:
            return f"{self._measured(one)} is no more than {self._measured(other)}"
        return (
            f"{self._measured(one)} is no more than {self._measured(other)} {'plus' if bound > 0 else 'less'} {amount}"
        )

    def _span(self, name: str, size: int) -> str:
        return time_words(size) if name == LAST_SCAN or not self._is_count(name) else f"{size}"

    def _is_count(self, name: str) -> bool:
        stem, _, part = name.rpartition("#")
        return (stem in self._kinds and part == "count") or name in self._tags

    def _measured(self, name: str) -> str:
        """A number as a noun."""
        if name == LAST_SCAN:
            return "the length of the last scan"
        owner, _, own = name.rpartition("/")
        if owner and (own in _AGES or own.startswith("gap")):
            return _AGES.get(own, "a time between events that {} counts").format(owner)
        stem, _, part = name.rpartition("#")
        if stem in self._kinds and part in ("elapsed", "count"):
            return f"the {'time' if part == 'elapsed' else 'count'} of `{stem}`"
        return self._noun(name)

    # ------------------------------------------------------------------- names

    @cached_property
    def _tags(self) -> set[str]:
        return set(self.program.controller.tags) if self.program.controller is not None else set()

    @cached_property
    def _shown(self) -> set[str]:
        """What devices show: a file can name it; what else they remember it cannot."""
        plant = self.program.plant
        return {*plant.assembly.outputs, *plant.assembly.contacts} if plant is not None else set()

    @cached_property
    def _edges(self) -> dict[str, EdgeOf]:
        controller, requirements = self.program.controller, self.program.requirements
        roots: list[object] = [requirements, self.program.assumptions]
        roots += controller.rungs if controller is not None else ()
        return {each.slot: each for root in roots for each in parts_of(root) if isinstance(each, EdgeOf)}

    @cached_property
    def _kinds(self) -> dict[str, str]:
        controller = self.program.controller
        return {name: stage.kind for name, stage in controller.stages.items()} if controller is not None else {}

    # -------------------------------------------------------------------- bools

    def _on_or_off(self, name: str, on: bool) -> str:
        if name in _OWN:
            return _OWN[name][not on]
        owner, _, own = name.rpartition("/")
        if owner and own in _MEMORY:
            return _MEMORY[own][not on].format(owner)
        stem, _, part = name.rpartition("#")
        state = "on" if on else "off"
        if stem in self._kinds and part == "powered":
            return f"power {'reached' if on else 'did not reach'} `{stem}` in the last scan"
        if part == "before":
            return self._contact(stem, state)
        if part == "ran":
            return f"what `{stem}` remembers {'goes on' if on else 'begins anew'}"
        return f"{self._noun(name)} is {state}"

    def _contact(self, slot: str, state: str) -> str:
        """The memory of an edge: how its contact was in the last scan (a monitor's: at the last instant)."""
        edge = self._edges.get(slot.rpartition("/")[2]) or self._edges.get(slot)
        operand = edge.operand if edge is not None else None
        if edge is not None and isinstance(operand, TagValue | StageOutput):
            name = operand.tag if isinstance(operand, TagValue) else operand.stage
            place = slot.rpartition("/")[0] or slot.partition("#")[0]
            return f"`{edge.kind} {name}` in `{place}` last met `{name}` {state}"
        return f"the edge contact `{slot}` last met {state}"

    def _noun(self, name: str) -> str:
        for mark, words in _SEEN_AS.items():
            if name.startswith(mark):
                return words.format(name.removeprefix(mark))
        return f"`{name.removesuffix('#out')}`"

    # ------------------------------------------------------------------ numbers

    def _amount(self, name: str, bound: float | int, words: str) -> str:
        if name in (LAST_SCAN, LAST.name):
            return f"the last scan took {words} {time_words(int(bound))}"
        if name == LEFT.name:
            return f"the scan under way goes on for {words} {time_words(int(bound))}"
        if name == WHICH:
            return f"the number of the fault is {words} {int(bound)}"
        owner, _, own = name.rpartition("/")
        if owner and (own in _AGES or own.startswith("gap")):
            noun = _AGES.get(own, "a time between events that {} counts")
            return f"{noun.format(owner)} is {words} {time_words(int(bound))}"
        stem, _, part = name.rpartition("#")
        if stem in self._kinds and part == "elapsed":
            return f"`{stem}` has run for {words} {time_words(int(bound))}"
        if stem in self._kinds and part == "count":
            return f"`{stem}` has counted {words} {many(int(bound), 'time')}"
        return (
            f"{self._noun(name)} is {words} {rounded(bound)}{self._unit(name)}"
            if part != "y"
            else self._kept(stem, bound, words)
        )

    def _kept(self, slot: str, bound: float | int, words: str) -> str:
        return f"what `{slot}` remembers is {words} {rounded(bound)}"

    def _unit(self, name: str) -> str:
        controller = self.program.controller
        bare = name.rpartition(":")[2]
        tag = controller.tags.get(bare) if controller is not None else None
        if tag is not None:
            return f" {tag.unit.symbol}" if tag.unit is not None else ""
        assembly = self.program.plant.assembly if self.program.plant is not None else None
        amount = (assembly.variables.get(bare) or assembly.outputs.get(bare)) if assembly is not None else None
        return f" {amount.unit}" if amount is not None and amount.unit else ""
