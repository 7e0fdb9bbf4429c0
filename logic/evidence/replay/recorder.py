"""Which wires of all drawn rungs have power at every scan, as the reference engine has it.

An observer of a run. It keeps, for each scan, one string of bytes: a 1 or 0 for every net of every
rung of the program, then for every element whether it conducts; and the same for the circuits
wherever that changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rungproof.grammar import tree
from rungproof.logic.engines.observer import Contacts
from rungproof.logic.engines.reference_expressions import Moment
from rungproof.logic.evidence.drawn.rung_svg import Drawing


@dataclass(frozen=True, slots=True)
class Shown:
    """One drawn rung. `supply` is None in a program, else the supply of its circuit."""

    rung: tree.Rung
    drawing: Drawing
    supply: str | None = None

    @property
    def size(self) -> int:
        """How many bytes say how it stands: its nets, then its elements."""
        return len(self.drawing.nets.ways) + len(self.drawing.elements)


@dataclass(slots=True)
class _Rung:
    """A rung with what it has stood like so far: few ways, each worked out once."""

    shown: Shown
    known: dict[tuple[bool, ...], bytes] = field(default_factory=dict)

    def bytes_of(self, conducts: tuple[bool, ...], rail: bool) -> bytes:
        key = (rail, *conducts)
        found = self.known.get(key)
        if found is None:
            drawing = self.shown.drawing
            power = drawing.nets.power(dict(enumerate(conducts)), rail=rail)
            found = self.known[key] = bytes([*power, *conducts])
        return found

    def dead(self) -> bytes:
        return bytes(self.shown.size)


@dataclass(slots=True)
class Recorder:
    """Watches a run. `scans` are (beginning, bytes), `circuits` (instant, bytes) where they change,
    `instants` (time, whether requirements on tags alone look at it, whether the controller scans)."""

    program: list[_Rung]
    hardwired: list[_Rung]
    scans: list[tuple[int, bytes]] = field(default_factory=list)
    circuits_at: list[tuple[int, bytes]] = field(default_factory=list)
    instants: list[tuple[int, bool, bool]] = field(default_factory=list)

    @classmethod
    def of(cls, shown: Sequence[Shown]) -> Recorder:
        rungs = [_Rung(each) for each in shown]
        return cls([r for r in rungs if r.shown.supply is None], [r for r in rungs if r.shown.supply is not None])

    def instant(self, t: int, moment: Moment, at_scan: bool) -> None:
        self.instants.append((t, at_scan, moment.scanning))

    def scan(self, t: int, contacts: Contacts, conducting: Mapping[str, tuple[bool, ...]]) -> None:
        self.scans.append((t, b"".join(_in_scan(rung, contacts, conducting) for rung in self.program)))

    def circuits(self, t: int, contacts: Contacts) -> None:
        if not self.hardwired:
            return
        found = b"".join(
            rung.bytes_of(_conducts(rung, contacts, {}), contacts.get(rung.shown.rung.span, False))
            for rung in self.hardwired
        )
        if not self.circuits_at or self.circuits_at[-1][1] != found:
            self.circuits_at.append((t, found))

    def dead(self) -> bytes:
        """How the program's rungs stand while nobody solves them."""
        return b"".join(rung.dead() for rung in self.program)


def _in_scan(rung: _Rung, contacts: Contacts, conducting: Mapping[str, tuple[bool, ...]]) -> bytes:
    lines = conducting.get(rung.shown.rung.name)
    if lines is None:
        return rung.dead()
    elements = rung.shown.rung.elements
    stages = {id(each): lines[n + 1] for n, each in enumerate(elements) if isinstance(each, tree.Stage)}
    return rung.bytes_of(_conducts(rung, contacts, stages), True)


def _conducts(rung: _Rung, contacts: Contacts, stages: Mapping[int, bool]) -> tuple[bool, ...]:
    """Whether each element conducts; an output does not, it only receives."""
    found = []
    for node in rung.shown.drawing.elements:
        if isinstance(node, tree.Output):
            found.append(False)
        elif isinstance(node, tree.Stage):
            found.append(stages.get(id(node), False))
        else:
            found.append(contacts.get(node.span, False))
    return tuple(found)
