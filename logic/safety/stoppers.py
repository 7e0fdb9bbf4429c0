"""What makes the program let go of an output, read from its rungs.

A contact in series that opens; a trip that is set; a comparison that no longer holds. Read
from the text alone: whether the program does it in time, the requirements say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from rungproof.logic.meaning.program import Condition, Controller, Output, Rung, Stage
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Comparison,
    EdgeOf,
    Expression,
    Inverse,
    StageOutput,
    TagValue,
)


@dataclass(frozen=True, slots=True)
class Stopper:
    """Input `tag` makes the output go off when it reads `at`; None: when its number says so. `rung` is where."""

    tag: str
    at: bool | None
    rung: str


def stoppers_of(controller: Controller, output: str) -> tuple[Stopper, ...]:
    """Every input that takes an output away, in the order found, each once for each way."""
    found: dict[tuple[str, bool | None], Stopper] = {}
    for stopper in _Reading(controller).off(output):
        found.setdefault((stopper.tag, stopper.at), stopper)
    return tuple(found.values())


def commands_of(controller: Controller, outputs: set[str]) -> set[str]:
    """Inputs that tell these outputs to run, or how fast: what a start branch reads, and what numbers come from."""
    reading = _Reading(controller)
    return {tag for output in outputs for tag in reading.commanding(output, set())}


@dataclass(slots=True)
class _Reading:
    """Answers are kept: a tag is read once, and one that is being read adds nothing to itself."""

    controller: Controller
    _known: dict[tuple[str, bool], tuple[Stopper, ...]] = field(default_factory=dict)

    def _rungs(self, target: str) -> Iterator[tuple[Rung, Output]]:
        for rung in self.controller.rungs:
            for output in rung.outputs:
                if output.target == target:
                    yield rung, output

    def off(self, target: str) -> tuple[Stopper, ...]:
        """What makes `target` off. Contacts that stand in one coil's path, resets of a latched tag."""
        return self._kept(target, False)

    def on(self, target: str) -> tuple[Stopper, ...]:
        """What makes `target` on: a trip's causes."""
        return self._kept(target, True)

    def _kept(self, target: str, on: bool) -> tuple[Stopper, ...]:
        if (target, on) not in self._known:
            self._known[target, on] = ()
            self._known[target, on] = tuple(dict.fromkeys((self._goes_on if on else self._goes_off)(target)))
        return self._known[target, on]

    def _goes_off(self, target: str) -> Iterator[Stopper]:
        for rung, output in self._rungs(target):
            match output.kind:
                case "coil":
                    for contact in _series(rung, output):
                        yield from self._opens(contact, rung)
                case "reset" | "negated":
                    for contact in _series(rung, output):
                        yield from self._closes(contact, rung)
                case "assign" if self._is_number(target):
                    yield from (Stopper(tag, None, rung.name) for tag in self._numbers(output.value))

    def _goes_on(self, target: str) -> Iterator[Stopper]:
        for rung, output in self._rungs(target):
            if output.kind in ("coil", "set"):
                contacts = list(_series(rung, output))
                for contact in contacts:
                    yield from self._closes(contact, rung, alone=len(contacts) == 1)

    def _opens(self, node: Expression, rung: Rung) -> Iterator[Stopper]:
        """What makes a contact of a path stop conducting."""
        match node:
            case TagValue(tag=tag) if self._is_input(tag):
                yield Stopper(tag, False, rung.name)
            case TagValue(tag=tag):
                yield from self.off(tag)
            case Inverse(operand=TagValue(tag=tag)) if self._is_input(tag):
                yield Stopper(tag, True, rung.name)
            case Inverse(operand=TagValue(tag=tag)):
                yield from self.on(tag)
            case AllOf(operands=operands):
                for operand in operands:
                    yield from self._opens(operand, rung)
            case AnyOf(operands=operands) if not any(_edges(operand) for operand in operands):
                shared = [set(self._opens(operand, rung)) for operand in operands]
                yield from sorted(set.intersection(*shared), key=str)
            case Comparison():
                yield from (Stopper(tag, None, rung.name) for tag in self._numbers(node))
            case StageOutput(stage=stage):
                yield from self._stage(stage, opens=True)
            case Inverse(operand=StageOutput(stage=stage)):
                yield from self._stage(stage, opens=False)

    def _closes(self, node: Expression, rung: Rung, alone: bool = False) -> Iterator[Stopper]:
        """What makes a contact conduct. Tags behind it are followed only where it stands alone in its path."""
        match node:
            case TagValue(tag=tag) if self._is_input(tag):
                yield Stopper(tag, True, rung.name)
            case Inverse(operand=TagValue(tag=tag)) if self._is_input(tag):
                yield Stopper(tag, False, rung.name)
            case TagValue(tag=tag) if alone:
                yield from self.on(tag)
            case Inverse(operand=TagValue(tag=tag)) if alone:
                yield from self.off(tag)
            case AllOf(operands=operands):
                for operand in operands:
                    yield from self._closes(operand, rung)
            case AnyOf(operands=operands):
                for operand in operands:
                    yield from self._closes(operand, rung, alone)
            case Comparison():
                yield from (Stopper(tag, None, rung.name) for tag in self._numbers(node))
            case StageOutput(stage=stage) if alone:
                yield from self._stage(stage, opens=False)

    def _stage(self, name: str, *, opens: bool) -> Iterator[Stopper]:
        """What ends, or begins, the power before a stage."""
        for rung in self.controller.rungs:
            before: list[Expression] = []
            for element in rung.elements:
                if isinstance(element, Condition):
                    before.append(element.expression)
                elif isinstance(element, Stage) and element.name == name:
                    for contact in before:
                        yield from (self._opens if opens else self._closes)(contact, rung)

    def commanding(self, target: str, seen: set[str]) -> Iterator[str]:
        """Inputs whose reading decides that `target` runs: numbers, and contacts of a start branch."""
        if target in seen:
            return
        seen.add(target)
        for rung, output in self._rungs(target):
            if output.kind == "assign":
                yield from self._numbers(output.value)
            if output.kind not in ("coil", "set"):
                continue
            contacts = list(_series(rung, output))
            for contact in contacts:
                if isinstance(contact, AnyOf) or len(contacts) == 1:
                    yield from self._read(contact, seen)
                elif isinstance(contact, Comparison):
                    yield from self._numbers(contact)
                elif isinstance(contact, TagValue) and not self._is_input(contact.tag):
                    yield from self.commanding(contact.tag, seen)

    def _read(self, node: Expression, seen: set[str]) -> Iterator[str]:
        for tag in sorted(readings_of([node]).tags):
            if self._is_input(tag):
                yield tag
            elif self._is_number(tag):
                yield from self._sources(tag)
            else:
                yield from self.commanding(tag, seen)

    def _numbers(self, node: Expression | None) -> Iterator[str]:
        """The input tags that the numbers of an expression come from."""
        if node is None:
            return
        for tag in sorted(readings_of([node]).tags):
            if self._is_number(tag):
                yield from self._sources(tag)

    def _sources(self, tag: str) -> Iterator[str]:
        waiting, seen = [tag], {tag}
        for name in waiting:
            if self._is_input(name):
                yield name
                continue
            values = [output.value for _, output in self._rungs(name) if output.value is not None]
            more = sorted(each for each in readings_of(values).tags - seen if self._is_number(each))
            seen.update(more)
            waiting += more

    def _is_input(self, tag: str) -> bool:
        return self.controller.tags[tag].role == "input"

    def _is_number(self, tag: str) -> bool:
        return self.controller.tags[tag].type != "bool"


def _series(rung: Rung, output: Output) -> Iterator[Expression]:
    for element in rung.elements:
        if isinstance(element, Condition):
            yield element.expression
    if output.when is not None:
        yield output.when


def _edges(node: Expression) -> bool:
    return isinstance(node, EdgeOf) or (isinstance(node, AllOf) and any(_edges(operand) for operand in node.operands))
