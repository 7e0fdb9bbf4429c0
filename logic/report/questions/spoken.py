"""Who speaks of what: requirements, the tags and devices that they read, and the wires between these."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from rungproof.logic.checks.expressions import form_expressions
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Condition, Controller, Plant, Program, Requirement, Rung, Stage
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import (
    AnyOf,
    Expression,
    NodeValue,
    PartReading,
    PowerUp,
    StageOutput,
    StageReading,
    TagValue,
    TerminalValue,
)

#: Devices that people or limits stop a machine with: whatever stands beside their contact takes the stop away.
STOPS = frozenset(
    {"emergency_stop", "guard_switch", "safety_module", "overload_relay", "float_switch", "flow_switch", "level_probe"}
)


@dataclass(frozen=True)
class Spoken:
    """A program's files, asked who speaks of what. Names are those of tags, stages and devices alike."""

    program: Program
    _read: dict[str, frozenset[str]] = field(default_factory=dict)

    @property
    def controller(self) -> Controller | None:
        return self.program.controller

    @property
    def plant(self) -> Plant | None:
        return self.program.plant

    @cached_property
    def reach(self) -> Reach | None:
        return Reach(self.program.plant) if self.program.plant is not None else None

    @cached_property
    def kinds(self) -> dict[str, str]:
        """The kind of each device."""
        return {part.name: part.kind for part in self.plant.assembly.parts} if self.plant is not None else {}

    @cached_property
    def source_of(self) -> dict[str, str]:
        """The device that an input's terminal is wired to, by tag."""
        wires = self.plant.inputs if self.plant is not None else ()
        return {wire.tag: wire.source.partition(".")[0] for wire in wires if wire.source is not None}

    @cached_property
    def driven_by(self) -> dict[str, frozenset[str]]:
        """For each device the output tags that reach its drive, through wires, relays and circuits."""
        if self.reach is None or self.plant is None:
            return {}
        found: dict[str, set[str]] = {}
        for drive in self.plant.assembly.driven:
            found.setdefault(drive.partition(".")[0], set()).update(self.reach.cone(drive).terminals)
        return {name: frozenset(tags) for name, tags in found.items()}

    def read_by(self, requirement: Requirement) -> frozenset[str]:
        """Tags, stages and devices whose names stand in a requirement's formula."""
        if requirement.name not in self._read:
            self._read[requirement.name] = names_of(form_expressions(requirement))
        return self._read[requirement.name]

    def of(self, name: str) -> tuple[str, ...]:
        """The requirements that speak of a tag, a stage or a device by name."""
        return tuple(r.name for r in self.program.requirements if name in self.read_by(r))

    def of_input(self, tag: str) -> tuple[str, ...]:
        """Those that speak of an input, or of the device that it is wired to."""
        return self._either(tag, self.source_of.get(tag))

    def of_output(self, tag: str) -> tuple[str, ...]:
        """Those that speak of an output, or of a device that it reaches."""
        devices = [name for name, tags in self.driven_by.items() if tag in tags]
        return self._either(tag, *devices)

    def of_device(self, name: str) -> tuple[str, ...]:
        """Those that speak of a device, or of an input that is wired to it."""
        return self._either(name, *(tag for tag, source in self.source_of.items() if source == name))

    def _either(self, *names: str | None) -> tuple[str, ...]:
        said = [set(self.of(name)) for name in names if name is not None]
        return tuple(r.name for r in self.program.requirements if any(r.name in each for each in said))

    def speaks_of_power(self) -> tuple[str, ...]:
        """The requirements that speak of power that comes back."""
        return tuple(
            r.name
            for r in self.program.requirements
            if any(isinstance(leaf, PowerUp) for each in form_expressions(r) for leaf in leaves(each))
        )

    def moving(self) -> tuple[str, ...]:
        """Output tags that move something; without a plant all that switch."""
        if self.controller is None:
            return ()
        outputs = [tag.name for tag in self.controller.tags.values() if tag.role == "output"]
        return tuple(each for each in outputs if self.reach is None or self.reach.moves(each))


def names_of(expressions: Iterable[Expression]) -> frozenset[str]:
    """The names of tags, stages and devices in expressions; of a device's contacts and quantities, the device's."""
    return frozenset(name for each in expressions for leaf in leaves(each) for name in _name(leaf))


def _name(leaf: object) -> Iterator[str]:
    match leaf:
        case TagValue(tag=name) | TerminalValue(tag=name):
            yield name
        case StageOutput(stage=name) | StageReading(stage=name):
            yield name
        case PartReading(key=key):
            yield key.partition(".")[0]
        case NodeValue(node=name):
            yield name


def rungs_of(program: Program) -> Iterator[tuple[str, Rung]]:
    """Every rung as the file draws it, with the words for where it stands."""
    for rung in program.controller.rungs if program.controller is not None else ():
        yield f"rung {rung.name}", rung
    for circuit in program.plant.circuits if program.plant is not None else ():
        for rung in circuit.drawn:
            yield f"circuit {circuit.name}, rung {rung.name}", rung


def read_in(rung: Rung) -> frozenset[str]:
    """The names that a rung's lines and outputs read."""
    lines = [each.expression for each in rung.elements if isinstance(each, Condition)]
    outputs = [each for output in rung.outputs for each in (output.when, output.value) if each is not None]
    return names_of([*lines, *outputs])


def above(rung: Rung, stage: Stage) -> frozenset[str]:
    """The names that the path above a stage reads."""
    place = rung.elements.index(stage)
    return names_of(each.expression for each in rung.elements[:place] if isinstance(each, Condition))


def parallels(rung: Rung) -> Iterator[AnyOf]:
    """Every parallel in a rung's lines."""
    for element in rung.elements:
        if isinstance(element, Condition):
            yield from (leaf for leaf in leaves(element.expression) if isinstance(leaf, AnyOf))
