"""Circuits and relays run by themselves, with sensors, terminals and supplies set by hand.

The question of a review is not what the process does but what the switching does: with
every sensor at rest and the program asking, does the drive run; and once a sensor says
stop, does it stop, with this contact welded and that supply gone? So the process stands
still here: relays, contactors, stop modules and the part in question step as they do in a
run, by their own equations, and every other contact stands where it is put.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_plant import solve_circuit
from rungproof.logic.meaning.program import Plant
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.typed import Expression
from rungproof.plant.carrier import WORLD
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Part

#: Parts that only pass a command on: their contacts follow their coils, whatever the process does.
SWITCHGEAR = frozenset({"relay", "contactor", "delay_relay", "latching_relay", "safety_module"})

#: No settling takes longer than this (ticks): a time relay of an hour is not waited for.
MOST_TICKS = 6000

_TIME = re.compile(r"\{(\w+):(ms|s)\}")


@dataclass(frozen=True, slots=True)
class Unit:
    """What moves together when somebody or something operates it: a part's contacts, or one contact of a
    part whose contacts differ. `name` is the part, or the contact."""

    name: str
    part: str
    closed_at_rest: Mapping[str, bool]

    def closed(self, operated: bool) -> dict[str, bool]:
        """Each contact's position, at rest or the other way round."""
        return {key: closed is not operated for key, closed in self.closed_at_rest.items()}


@dataclass(frozen=True, slots=True)
class Setting:
    """How all stands: which units are operated (away from rest), what the terminals give, what has failed.

    `faults` are keys as in a run (`K1!sticks`, `LS2.1!welded`); `dead` are supplies, with all that
    is fed from them.
    """

    operated: frozenset[str] = frozenset()
    moved_contacts: frozenset[str] = frozenset()
    terminals_off: frozenset[str] = frozenset()
    faults: frozenset[str] = frozenset()
    dead: frozenset[str] = frozenset()
    pressed: bool = False


@dataclass
class Switching:
    """A plant's switching, about one hazard's safe state.

    `running` is None where no position of the sensors was found that lets the drive run.
    """

    plant: Plant
    safe_state: Expression
    units: tuple[Unit, ...] = field(init=False)
    rest: frozenset[str] = field(init=False, default=frozenset())
    running: dict[str, Any] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        assembly = self.plant.assembly
        named = {key.partition(".")[0] for key in readings_of([self.safe_state]).plant}
        self._parts = [p for p in assembly.parts if p.kind in SWITCHGEAR or p.name in named]
        self._kinds = {part.name: part.kind for part in assembly.parts}
        self._look = assembly.look(PLAIN, assembly.start(), {})
        self.units = tuple(self._units())
        self._unit_of = {key: unit for unit in self.units for key in unit.closed_at_rest}
        self._momentary = frozenset(p.name for p in assembly.parts if p.kind == "push_button")
        self._outputs = {wire.tag for wire in self.plant.outputs if wire.channel is None}
        self._slow = any(not self._at_once(key) for key in readings_of([self.safe_state]).plant)
        self._ticks = min(MOST_TICKS, 20 + sum(math.ceil(ms / self.plant.tick) for ms in self._times()))
        start = assembly.start()
        self._start = {part.name: _local(part, start) for part in self._parts}

    def _units(self) -> Iterator[Unit]:
        for part in self.plant.assembly.parts:
            if part.kind in SWITCHGEAR or not part.contacts:
                continue
            at_rest = {f"{part.name}.{c.name}": bool(self._look[f"{part.name}.{c.name}"]) for c in part.contacts}
            if type(part).closed is Part.closed:
                yield Unit(part.name, part.name, at_rest)
            else:
                yield from (Unit(key, part.name, {key: closed}) for key, closed in at_rest.items())

    def _at_once(self, key: str) -> bool:
        """Whether what a safe state reads follows its drive at once: supply, contacts of relays."""
        return key.endswith(".energised") or self._kinds[key.partition(".")[0]] in SWITCHGEAR

    def _times(self) -> Iterator[float]:
        """Times in the lines of the parts that step, in ms. Time constants, where what is read follows by one,
        count six times: 0.25 % is left."""
        for part in self._parts:
            for clause in part.clauses:
                for slot, unit in _TIME.findall(clause.pattern):
                    value = part.given.get(slot)
                    counts = unit == "ms" or self._slow
                    if counts and isinstance(value, int | float) and not isinstance(value, bool):
                        yield float(value) * (6000 if unit == "s" else 1)

    # ------------------------------------------------------------------ running

    def start_up(self, wanted: Iterable[str]) -> bool:
        """Find how sensors stand while the drive runs, nearest to how they stand at time 0; keep that state.

        `wanted` names units that may have to be operated for it. Buttons are pressed and let go; those that
        have to be held (hold to run, two-hand control) are held where nothing runs otherwise.
        """
        names = frozenset(wanted)
        units = [unit for unit in self.units if unit.name in names]
        asked = [unit.name for unit in units if unit.part not in self._momentary]
        buttons = [unit.name for unit in units if unit.part in self._momentary]
        closed = frozenset(n for n in asked if not all(self._named(n).closed_at_rest.values()))
        tries = [frozenset[str](), closed, *_some_of(asked)]
        tries += [held | others for held in _some_of(buttons) for others in (frozenset[str](), closed)]
        for operated in dict.fromkeys(tries):
            state = self._run(self._start, Setting(operated=operated, pressed=True))
            state = self._run(state, Setting(operated=operated))
            if not self.safe(state, Setting(operated=operated)):
                self.rest, self.running = operated, state
                return True
        return False

    def _named(self, name: str) -> Unit:
        return next(unit for unit in self.units if unit.name == name)

    def stops(self, setting: Setting) -> bool:
        """Whether the drive, running, comes to its safe state in this setting."""
        assert self.running is not None, "nothing runs here"
        return self.safe(self._run(self.running, setting), setting)

    def closed_after(self, setting: Setting, contact: str) -> bool:
        """Whether a contact is closed once the drive, running, has gone through this setting."""
        assert self.running is not None, "nothing runs here"
        return bool(self.look(self._run(self.running, setting), setting)[contact])

    # ------------------------------------------------------------------- stepping

    def _run(self, state: Mapping[str, Any], setting: Setting) -> dict[str, Any]:
        now = dict(state)
        for _ in range(self._ticks):
            look = self.look(now, setting)
            drives = self._drives(look, setting)
            later = {part.name: self._step(part, now[part.name], drives, setting) for part in self._parts}
            if later == now:  # nothing from outside changes, so nothing will
                break
            now = later
        return now

    def safe(self, state: Mapping[str, Any], setting: Setting) -> bool:
        return bool(evaluate(self.safe_state, Moment(plant=self.look(state, setting))))

    def look(self, state: Mapping[str, Any], setting: Setting) -> dict[str, Any]:
        """The truth at this instant; contacts as `setting` puts them."""
        look = dict(self._look)
        for part in self._parts:
            local = state[part.name]
            failing = _failing(part, setting.faults)
            shown = {output.name for output in part.outputs} & local.keys()
            look |= {f"{part.name}.{name}": local[name] for name in shown}
            look |= {f"{part.name}.{name}": value for name, value in part.look(PLAIN, local, failing).items()}
            if part.kind in SWITCHGEAR:
                for contact in part.contacts:
                    look[f"{part.name}.{contact.name}"] = part.closed(PLAIN, local, contact)
        for unit in self.units:
            pressed = setting.pressed and unit.part in self._momentary
            for key, closed in unit.closed(unit.name in setting.operated).items():
                look[key] = pressed or closed is not (key in setting.moved_contacts)
        for part in self.plant.assembly.parts:
            for contact in part.contacts:
                key = f"{part.name}.{contact.name}"
                if f"{key}!welded" in setting.faults:
                    look[key] = True
                if f"{key}!stays_open" in setting.faults:
                    look[key] = False
            if f"{part.name}.live" in look:
                look[f"{part.name}.live"] = part.name not in setting.dead
        return look

    def _drives(self, look: Mapping[str, Any], setting: Setting) -> dict[str, Any]:
        terminals: dict[str, bool] = {}
        for wire in self.plant.outputs:
            live = wire.module_supply is None or bool(look[f"{wire.module_supply}.live"])
            terminals[wire.tag] = live and wire.tag not in setting.terminals_off
        drives: dict[str, Any] = {}
        for wire in self.plant.outputs:
            if wire.target is not None and wire.channel is None:
                drives[wire.target] = terminals[wire.tag]
        for circuit in self.plant.circuits:
            drives |= solve_circuit(circuit, look, terminals)
        return drives

    def _step(
        self, part: Part, local: Mapping[str, Any], drives: Mapping[str, Any], setting: Setting
    ) -> dict[str, Any]:
        inputs: dict[str, Any] = {}
        for each in part.inputs:
            if each.source == "driven":
                full = each.start if each.type == "bool" else each.high
                inputs[each.name] = drives.get(f"{part.name}.{each.name}", full)
            elif each.source == "available":
                inputs[each.name] = WORLD
            elif each.source == "part":
                inputs[each.name] = self._look[each.of]
            else:
                inputs[each.name] = each.start
        return part.step(PLAIN, local, inputs, _failing(part, setting.faults))


def _some_of(names: list[str]) -> Iterator[frozenset[str]]:
    """One, two or three of these at a time, the first 400 of each."""
    for count in (1, 2, 3):
        yield from map(frozenset, itertools.islice(itertools.combinations(names, count), 400))


def _local(part: Part, state: Mapping[str, Any]) -> dict[str, Any]:
    return {variable.name: state[f"{part.name}.{variable.name}"] for variable in part.variables}


def _failing(part: Part, faults: frozenset[str]) -> dict[str, bool]:
    return {fault.name: f"{part.name}!{fault.name}" in faults for fault in part.faults}
