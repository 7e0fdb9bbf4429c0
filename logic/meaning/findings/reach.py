"""What an output terminal can move, and what a drive depends on: wires and relays followed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import Circuit, Condition, Plant, Rung
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import NodeValue, PartReading, TerminalValue
from rungproof.plant.part import Part

#: Parts that pass a command on, or only show it: nothing moves in them.
_STILL = frozenset(
    {"relay", "contactor", "delay_relay", "latching_relay", "safety_module", "lamp", "horn", "beacon", "text_panel"}
)


@dataclass(slots=True)
class Cone:
    """All that one drive depends on: contacts with the place where they stand, terminals, supplies."""

    contacts: dict[str, Span] = field(default_factory=dict)
    terminals: dict[str, Span] = field(default_factory=dict)
    supplies: set[str] = field(default_factory=set)


class Reach:
    """Follows a plant's wires. Relay contacts lead on to whatever drives the relay."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.parts = {part.name: part for part in plant.assembly.parts}
        self._coils: dict[str, list[str]] = {}
        for key in plant.assembly.driven:
            self._coils.setdefault(key.partition(".")[0], []).append(key)
        self._feeders: dict[str, list[tuple[Circuit, Rung]]] = {}
        for circuit in plant.circuits:
            for rung in circuit.rungs:
                for output in rung.outputs:
                    key = output.target if output.target_kind == "drive" else f"{circuit.name}/{output.target}"
                    self._feeders.setdefault(key, []).append((circuit, rung))
        self._wired = {wire.target: wire for wire in plant.outputs if wire.target is not None}

    def driven_at(self, drive: str) -> Span | None:
        """Where a circuit or a wire drives it; None where nothing does."""
        wire = self._wired.get(drive)
        outputs = (each for _, rung in self._feeders.get(drive, ()) for each in rung.outputs if each.target == drive)
        return wire.span if wire is not None else next((each.span for each in outputs), None)

    def cone(self, drive: str, *, not_through: frozenset[str] = frozenset()) -> Cone:
        """What `drive` depends on, through nodes, wires and the coils of relays, but of no part in `not_through`."""
        cone = Cone()
        waiting, seen = [drive], set[str]()
        while waiting:
            key = waiting.pop()
            if key in seen:
                continue
            seen.add(key)
            wire = self._wired.get(key)
            if wire is not None:
                cone.terminals.setdefault(wire.tag, wire.span)
                if wire.module_supply is not None:
                    cone.supplies.add(wire.module_supply)
            for circuit, rung in self._feeders.get(key, ()):
                cone.supplies.add(circuit.supply)
                waiting += self._read(circuit, rung, cone, not_through)
        return cone

    def _read(self, circuit: Circuit, rung: Rung, cone: Cone, not_through: frozenset[str]) -> list[str]:
        """Note what a rung reads; the drives and nodes to follow from there."""
        follow: list[str] = []
        for node in _nodes(rung):
            match node:
                case PartReading(key=key):
                    cone.contacts.setdefault(key, node.span)
                    part = key.partition(".")[0]
                    follow += self.coils(part) if part not in not_through else []
                case NodeValue(node=name):
                    follow.append(f"{circuit.name}/{name}")
                case TerminalValue(tag=tag):
                    cone.terminals.setdefault(tag, node.span)
        return follow

    def coils(self, part: str) -> list[str]:
        """What can be driven of a part."""
        return self._coils.get(part, [])

    def drives(self, parts: Iterable[str]) -> list[str]:
        """What switches these parts on and off, or the coils whose contacts they are."""
        driven = self.plant.assembly.driven
        return [key for part in parts for key in self.coils(part) if driven[key].type == "bool"]

    def switches(self, tag: str) -> bool:
        """Whether an output's terminal is on or off, rather than a signal."""
        return all(wire.channel is None for wire in self.plant.outputs if wire.tag == tag)

    def moves(self, tag: str) -> bool:
        """Whether an output tag's terminal can move something: more than a lamp, a horn, a relay."""
        return any(tag in self.cone(drive).terminals for drive in self.moving())

    def moving(self) -> list[str]:
        """What can be driven of parts in which something moves."""
        return [drive for drive in self.plant.assembly.driven if self._part(drive).kind not in _STILL]

    def _part(self, key: str) -> Part:
        return self.parts[key.partition(".")[0]]


def _nodes(rung: Rung) -> Iterable[PartReading | NodeValue | TerminalValue]:
    expressions = [e.expression for e in rung.elements if isinstance(e, Condition)]
    expressions += [o.when for o in rung.outputs if o.when is not None]
    for expression in expressions:
        for node in leaves(expression):
            if isinstance(node, PartReading | NodeValue | TerminalValue):
                yield node
