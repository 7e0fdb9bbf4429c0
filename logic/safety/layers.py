"""Who guards a hazard: the circuits, the program, the people; and what each leans on.

Computed from circuits, rungs and wiring. A layer's demand is that all its sensors, or all its
hand devices, move away from rest at once; it works if the drive then comes to its safe state.
Independence of protection layers: IEC 61511-1 clause 9 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Hazard, Plant, Program
from rungproof.logic.meaning.requirements import parts_of
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.safety.stoppers import Stopper, commands_of, stoppers_of
from rungproof.logic.safety.switching import SWITCHGEAR, Setting, Switching, Unit

LayerName = Literal["circuit", "program", "operator"]

#: What a person works to stop something.
HAND = frozenset({"push_button", "emergency_stop", "selector", "key_switch", "two_hand_station", "breaker", "dial"})

#: What tells a person.
SIGNALS = frozenset({"lamp", "horn", "beacon", "text_panel"})

#: Why nothing can be computed where a safe state names tags alone.
NOTHING_DRIVEN = (
    "its safe state names no part that anything drives; say what the machine must do, not a tag, "
    "such as `not M1.energised`"
)

#: Why nothing can be computed where nothing leaves the safe state: it asks for something that the program runs.
NEVER_LEFT = (
    "its safe state holds in every position of the sensors while the outputs are on; what keeps a machine from "
    "running is told by `rungproof faults`"
)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of one hazard.

    `contacts` are those in circuits that its demand moves, `reads` the inputs by which the program
    sees it, with the outputs they take away. `sensors` are the parts behind both.
    """

    name: LayerName
    sensors: tuple[str, ...]
    contacts: frozenset[str] = frozenset()
    reads: tuple[tuple[str, Stopper], ...] = ()


@dataclass(frozen=True, slots=True)
class Failure:
    """One dangerous thing that can have happened, unseen, to one element. `key` tells failures apart."""

    key: str
    element: str
    words: str


@dataclass
class Guarded:
    """A hazard with its drives, its layers and how they fare.

    `why_not` says why nothing can be computed, "" where it can. `told_by` maps each signal that
    shows something of the hazard to the sensors behind it; `causes` are the sensors by which the
    program decides that the drive runs.
    """

    program: Program
    plant: Plant
    hazard: Hazard
    reach: Reach
    why_not: str = ""
    layers: tuple[Layer, ...] = ()
    told_by: dict[str, tuple[str, ...]] = field(default_factory=dict)
    causes: tuple[str, ...] = ()
    _working: dict[tuple[Layer, frozenset[str]], bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.wires = {wire.tag: wire for wire in self.plant.inputs}
        self.kind_of = {part.name: part.kind for part in self.plant.assembly.parts}
        if self.hazard.safe_state is None:
            self.why_not = "no safe state is declared: write `safe state CONDITION` behind its sentence"
            return
        if readings_of([self.hazard.safe_state]).tags:  # a tag moves nothing
            self.why_not = NOTHING_DRIVEN
            return
        self.switching = Switching(self.plant, self.hazard.safe_state)
        self.named = {key.partition(".")[0] for key in readings_of([self.hazard.safe_state]).plant}
        self.drives = sorted(self.reach.drives(self.named))
        cones = [self.reach.cone(drive) for drive in self.drives]
        self.contacts = {key for cone in cones for key in cone.contacts}
        self.terminals = sorted({t for cone in cones for t in cone.terminals if self.reach.switches(t)})
        self.supplies = self._upstream({supply for cone in cones for supply in cone.supplies})
        in_circuit = [unit for unit in self.switching.units if unit.closed_at_rest.keys() & self.contacts]
        if not self.drives:
            self.why_not = NOTHING_DRIVEN
        elif not self.switching.start_up(unit.name for unit in in_circuit):
            self.why_not = NEVER_LEFT
        else:
            self._find_layers(in_circuit)

    def _upstream(self, supplies: Iterable[str]) -> set[str]:
        """These supplies and what they are fed from."""
        found: set[str] = set()
        waiting = list(supplies)
        while waiting:
            name = waiting.pop()
            if name not in found:
                found.add(name)
                source = self.reach.parts[name].given.get("source")
                waiting += [source] if isinstance(source, str) else []
        return found

    def fed_from(self, supply: str) -> frozenset[str]:
        """What is dead with this supply, itself included."""
        return frozenset(name for name in self.reach.parts if supply in self._upstream_of(name))

    def _upstream_of(self, name: str) -> set[str]:
        return self._upstream({name}) if any(o.name == "live" for o in self.reach.parts[name].outputs) else set()

    # --------------------------------------------------------------- finding them

    def _find_layers(self, in_circuit: list[Unit]) -> None:
        concerned = self._concerned()
        by_wire = [unit for unit in in_circuit if self.switching.stops(self._moving(unit.closed_at_rest))]
        reads = self._program_reads()
        wired = {unit.name: frozenset(unit.closed_at_rest.keys() & self.contacts) for unit in by_wire}
        auto = [u for u in by_wire if self.kind_of[u.part] not in HAND and self._sees(u.part, concerned)]
        seen = [(t, s) for t, s in reads if self._is_sensor(s.tag) and self._sees(self._source(s.tag), concerned)]
        seen = seen or self._seen_by_relay(reads, concerned)
        found = []
        if auto:
            contacts = frozenset().union(*(wired[unit.name] for unit in auto))
            found.append(Layer("circuit", _names(u.part for u in auto), contacts))
        if seen:
            names = _names(each for _, s in seen for each in self._eyes(s.tag))
            found.append(Layer("program", names, frozenset(), tuple(seen)))
        hands = [u for u in by_wire if self.kind_of[u.part] in HAND]
        by_hand = [(t, s) for t, s in reads if self.kind_of.get(self._source(s.tag)) in HAND]
        if hands or by_hand:
            contacts = frozenset().union(*(wired[unit.name] for unit in hands))
            names = _names([*(u.part for u in hands), *(self._source(s.tag) for _, s in by_hand)])
            found.append(Layer("operator", names, contacts, tuple(by_hand)))
        self.layers = tuple(found)
        self.told_by = self._signals(concerned)
        self.causes = self._commanding()

    def _seen_by_relay(self, reads: list[tuple[str, Stopper]], concerned: set[str]) -> list[tuple[str, Stopper]]:
        """What the program sees through a relay's contact only: the sensors that drive that relay.

        A relay that the program drives itself is read back, and no sensor.
        """
        through = [(t, s) for t, s in reads if self.kind_of.get(self._source(s.tag)) in SWITCHGEAR]
        driven = {r for r in self._relays() for coil in self.reach.coils(r) if self.reach.cone(coil).terminals}
        through = [(t, s) for t, s in through if self._source(s.tag) not in driven]
        return [(t, s) for t, s in through if any(self._sees(eye, concerned) for eye in self._eyes(s.tag))]

    def _eyes(self, tag: str) -> tuple[str, ...]:
        """The sensors behind an input: its part, or, where that is a relay, what drives the relay."""
        source = self._source(tag)
        if self.kind_of.get(source) not in SWITCHGEAR:
            return (source,)
        return _names(unit.part for unit in self._before_relay(source) if self.kind_of[unit.part] not in HAND)

    def _before_relay(self, relay: str) -> list[Unit]:
        keys = {key for coil in self.reach.coils(relay) for key in self.reach.cone(coil).contacts}
        return [unit for unit in self.switching.units if unit.closed_at_rest.keys() & keys]

    def _moving(self, keys: Iterable[str]) -> Setting:
        return Setting(operated=self.switching.rest, moved_contacts=frozenset(keys))

    def _concerned(self) -> set[str]:
        """Parts that the requirements against this hazard speak of, through tags too."""
        found: set[str] = set()
        for requirement in self.program.requirements:
            if self.hazard.name in requirement.against:
                readings = readings_of([*parts_of(requirement.form)[0], *parts_of(requirement.form)[1]])
                found |= {key.partition(".")[0] for key in readings.plant}
                found |= {self._source(tag) for tag in readings.tags if tag in self.wires}
        return found

    def _sees(self, part: str, concerned: set[str]) -> bool:
        """Whether a sensor looks at something that the hazard's requirements speak of; all do, if none does."""
        sensors = [p for p, kind in self.kind_of.items() if kind not in HAND and self._looks_at(p) & concerned]
        return not sensors or bool(self._looks_at(part) & concerned)

    def _looks_at(self, part: str) -> set[str]:
        if part not in self.reach.parts or (not self.reach.parts[part].contacts and not self._signals_of(part)):
            return set()
        seen = {i.of.partition(".")[0] for i in self.reach.parts[part].inputs if i.source == "part"}
        return seen | {part}

    def _signals_of(self, part: str) -> bool:
        return any(output.unit in ("V", "mA") for output in self.reach.parts[part].outputs)

    def _program_reads(self) -> list[tuple[str, Stopper]]:
        """By which inputs the program takes which terminal away, where that terminal's going stops the drive."""
        controller = self.program.controller
        if controller is None:
            return []
        found = []
        for tag in self.terminals:
            if not self._takes_away(tag):
                continue
            for stopper in stoppers_of(controller, tag):
                wire = self.wires.get(stopper.tag)
                if wire is not None and wire.source is not None:
                    found.append((tag, stopper))
        return found

    def _takes_away(self, tag: str) -> bool:
        """Whether this terminal's going off stops the drive, alone or as one of those that must all go."""
        every = frozenset(self.terminals)

        def stops(off: frozenset[str]) -> bool:
            return self.switching.stops(Setting(operated=self.switching.rest, terminals_off=off))

        return stops(frozenset({tag})) or (stops(every) and not stops(every - {tag}))

    def _source(self, tag: str) -> str:
        wire = self.wires.get(tag)
        return (wire.source or "").partition(".")[0] if wire is not None else ""

    def _is_sensor(self, tag: str) -> bool:
        kind = self.kind_of.get(self._source(tag), "")
        return kind not in SWITCHGEAR and kind not in HAND and kind != "" and self._source(tag) not in self.named

    def _signals(self, concerned: set[str]) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for name, kind in self.kind_of.items():
            if kind in SIGNALS:
                cones = [self.reach.cone(drive) for drive in self.reach.coils(name)]
                terminals = {terminal for cone in cones for terminal in cone.terminals}
                sources = {self._source(tag) for terminal in terminals for tag in self._inputs_behind(terminal)}
                sources |= {key.partition(".")[0] for cone in cones for key in cone.contacts}
                still = HAND | SWITCHGEAR
                seen = {s for s in sources if self.kind_of.get(s) not in still and self._looks_at(s) & concerned}
                seen -= self.named
                if seen:
                    found[name] = tuple(sorted(seen))
        return found

    def _inputs_behind(self, tag: str) -> set[str]:
        """All input tags that a tag depends on."""
        controller = self.program.controller
        if controller is None:
            return set()
        waiting, seen = [tag], {tag}
        for name in waiting:
            for rung in controller.rungs:
                written = {o.target for o in rung.outputs} | {getattr(e, "name", "") for e in rung.elements}
                if name in written:
                    nodes = [getattr(e, "expression", None) for e in rung.elements]
                    nodes += [each for o in rung.outputs for each in (o.when, o.value)]
                    read = readings_of([node for node in nodes if node is not None])
                    more = sorted((read.tags | read.stages) - seen)
                    seen.update(more)
                    waiting += more
        return {name for name in seen if name in self.wires}

    def _commanding(self) -> tuple[str, ...]:
        """Sensors by which the program decides that the drive runs, or how fast."""
        controller = self.program.controller
        if controller is None:
            return ()
        outputs = {*self.terminals}
        outputs |= {w.tag for w in self.plant.outputs if w.target and w.target.partition(".")[0] in self.named}
        tags = commands_of(controller, outputs)
        return _names(self._source(tag) for tag in tags if tag in self.wires and self._is_sensor(tag))

    # ------------------------------------------------------------------- failing

    def failures(self, layer: Layer) -> list[Failure]:
        """All that can have failed in what a layer leans on, each alone."""
        found = [Failure(f"stuck:{part}", part, "does not respond") for part in layer.sensors]
        switched = {key for key in self.contacts if self.kind_of[key.partition(".")[0]] in SWITCHGEAR}
        keys = switched | layer.contacts
        wires = sorted({self.wires[stopper.tag].terminal for _, stopper in layer.reads})
        keys |= {w.source for w in self.plant.inputs if w.terminal in wires and w.channel is None and w.source}
        for relay in {self._source(s.tag) for _, s in layer.reads} & self._relays():
            before = {key for coil in self.reach.coils(relay) for key in self.reach.cone(coil).contacts}
            keys |= {key for key in before if key.partition(".")[0] in {*layer.sensors, *self._relays()}}
            switched = switched | {f"{relay}.", *(key for key in before if key.partition(".")[0] in self._relays())}
        for key in sorted(keys):
            found.append(Failure(f"{key}!welded", key, "stays closed"))
            found.append(Failure(f"{key}!stays_open", key, "stays open, or its wire is off"))
        for part in sorted({key.partition(".")[0] for key in switched}):
            for fault in self.reach.parts[part].faults:
                if fault.name != "slow":
                    found.append(Failure(f"{part}!{fault.name}", part, fault.words))
        supplies = set(self.supplies)
        if layer.reads:
            found += [Failure(f"wire:{place}", place, "its wire is off") for place in wires]
            found.append(Failure("program", "controller", "the program hangs, its outputs stand"))
            for wire in self.plant.outputs:
                if wire.tag in self.terminals:
                    found.append(Failure(f"on:{wire.tag}", wire.terminal, "the output stays on"))
            fed = {self.wires[s.tag].module_supply for _, s in layer.reads} | {self.plant.controller_supply}
            supplies |= self._upstream(name for name in fed if name is not None)
        found += [Failure(f"dead:{name}", name, "is lost") for name in sorted(supplies)]
        return found

    def _relays(self) -> set[str]:
        return {name for name, kind in self.kind_of.items() if kind in SWITCHGEAR}

    def works(self, layer: Layer, failures: frozenset[str]) -> bool:
        """Whether the drive comes to its safe state on this layer's demand, all of `failures` (keys) there."""
        known = (layer, failures)
        if known not in self._working:
            self._working[known] = self.switching.stops(self._demand(layer, failures))
        return self._working[known]

    def _demand(self, layer: Layer, failures: frozenset[str]) -> Setting:
        dead = frozenset(d for f in failures if f.startswith("dead:") for d in self.fed_from(f[5:]))
        faults = frozenset(f for f in failures if "!" in f)
        moved = frozenset(key for key in layer.contacts if f"stuck:{key.partition('.')[0]}" not in failures)
        off = {tag for tag, stopper in layer.reads if self._stops(layer, stopper, failures, dead)}
        if "program" in failures:
            off = set()
        if self.plant.controller_supply in dead:
            off = set(self.terminals)
        off -= {tag for tag in off if f"on:{tag}" in failures}
        return Setting(self.switching.rest, moved, frozenset(off), faults, dead)

    def _stops(self, layer: Layer, stopper: Stopper, failures: frozenset[str], dead: frozenset[str]) -> bool:
        """Whether the program reads the demand at this input."""
        if self.kind_of.get(self._source(stopper.tag)) in SWITCHGEAR:
            return self._relay_stops(layer, stopper, failures, dead)
        wire = self.wires[stopper.tag]
        moves = f"stuck:{self._source(stopper.tag)}" not in failures
        reaches = f"wire:{wire.terminal}" not in failures and wire.module_supply not in dead
        if stopper.at is None:
            return moves and reaches
        closed = not stopper.at if not moves else stopper.at
        if f"{wire.source}!welded" in failures:
            closed = True
        if f"{wire.source}!stays_open" in failures:
            closed = False
        return (closed and reaches) is stopper.at

    def _relay_stops(self, layer: Layer, stopper: Stopper, failures: frozenset[str], dead: frozenset[str]) -> bool:
        """The same where a relay's contact is read: its sensors move, and the relay follows, or does not."""
        wire = self.wires[stopper.tag]
        units = [unit for unit in self._before_relay(self._source(stopper.tag)) if unit.part in layer.sensors]
        moved = {key for unit in units if f"stuck:{unit.part}" not in failures for key in unit.closed_at_rest}
        faults = frozenset(failure for failure in failures if "!" in failure)
        setting = Setting(self.switching.rest, frozenset(moved), frozenset(), faults, dead)
        closed = self.switching.closed_after(setting, wire.source or "")
        reaches = f"wire:{wire.terminal}" not in failures and wire.module_supply not in dead
        return (closed and reaches) is stopper.at


def _names(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))
