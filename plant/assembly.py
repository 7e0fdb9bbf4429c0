"""All parts of a plant put together: one state, one look, one tick.

Everything that happens with values goes through `ops`, so the same text runs with plain
numbers and, given expressions, is lowered to the engines' intermediate form. Python
branches on what the plant is made of, never on a value.

One tick, all from the state at its start:
  1. movers are served in the order of their lines, each from what the earlier ones left;
  2. vessels take in and give out what the movers carried;
  3. every other part steps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from rungproof.plant.carrier import WORLD
from rungproof.plant.fitting import AssemblyError, PartProblem, misfits, mixes
from rungproof.plant.operators import PLAIN, Ops, Value
from rungproof.plant.part import (
    CONTACT_FAULTS,
    Contact,
    Fault,
    Input,
    Mover,
    Output,
    Part,
    Variable,
    Vessel,
)
from rungproof.plant.rehearsal import mistakes
from rungproof.plant.store import concentration

__all__ = ["Assembly", "AssemblyError", "PartProblem"]

#: (name within the part, flat key, start value)
Entry = tuple[str, str, Any]


@dataclass(slots=True)
class _Place:
    """A part with the flat keys of all it reads and writes, worked out once."""

    part: Part
    state: list[tuple[str, str]]
    driven: list[Entry]
    outside: list[Entry]
    seen: list[tuple[str, str]]
    faults: list[tuple[str, str]]
    shown: list[tuple[str, str]]
    contacts: list[tuple[Contact, str, str, str]]
    source: str | None = None
    destination: str | None = None
    wants_richness: bool = False

    def local(self, state: Mapping[str, Value]) -> dict[str, Value]:
        return {name: state[key] for name, key in self.state}

    def given(
        self, look: Mapping[str, Value], drive: Mapping[str, Value], env: Mapping[str, Value]
    ) -> dict[str, Value]:
        inputs: dict[str, Value] = {}
        for name, key, start in self.driven:
            inputs[name] = drive.get(key, start)
        for name, key, start in self.outside:
            inputs[name] = env.get(key, start)
        for name, key in self.seen:
            inputs[name] = look[key]
        return inputs

    def failing(self, env: Mapping[str, Value]) -> dict[str, Value]:
        return {name: env.get(key, False) for name, key in self.faults}


def _place(part: Part) -> _Place:
    name = part.name
    own = {variable.name for variable in part.variables}
    by_source: dict[str, list[Entry]] = {}
    for each in part.inputs:
        key = f"{name}~{each.name}" if each.source == "noise" else f"{name}.{each.name}"
        by_source.setdefault(each.source, []).append((each.name, key, each.start))
    outside = [entry for source in ("operator", "disturbance", "noise") for entry in by_source.get(source, [])]
    return _Place(
        part=part,
        state=[(v.name, f"{name}.{v.name}") for v in part.variables],
        driven=by_source.get("driven", []),
        outside=outside,
        seen=[(i.name, i.of) for i in part.inputs if i.source == "part"],
        faults=[(f.name, f"{name}!{f.name}") for f in part.faults],
        shown=[(o.name, f"{name}.{o.name}") for o in part.outputs if o.name not in own],
        contacts=[
            (c, f"{name}.{c.name}", f"{name}.{c.name}!welded", f"{name}.{c.name}!stays_open") for c in part.contacts
        ],
        source=part.source if isinstance(part, Mover) else None,
        destination=part.destination if isinstance(part, Mover) else None,
        wants_richness="richness" in by_source,
    )


@dataclass(slots=True)
class _Tick:
    """One tick on its way: what it is worked out from, and the state after it so far."""

    ops: Ops
    state: Mapping[str, Value]
    look: Mapping[str, Value]
    drive: Mapping[str, Value]
    env: Mapping[str, Value]
    after: dict[str, Any] = field(default_factory=dict)

    def step(self, place: _Place, inputs: Mapping[str, Value]) -> dict[str, Any]:
        stepped = place.part.step(self.ops, place.local(self.state), inputs, place.failing(self.env))
        for name, key in place.state:
            self.after[key] = stepped[name]
        return stepped

    def store(self, name: str) -> dict[str, Value]:
        return {each: self.state[f"{name}.{each}"] for each in ("volume", "additive")}


@dataclass(slots=True)
class _Carried:
    """What the movers did: how rich each mixing vessel was, who gained (litres, from whom), who was drawn on."""

    richness: dict[str, Any]
    gained: dict[str, list[tuple[Any, str | None]]] = field(default_factory=dict)
    drawn: dict[str, list[Any]] = field(default_factory=dict)


class Assembly:
    """The plant as one thing. Raises `AssemblyError` where the parts do not fit together.

    Flat keys throughout, as in `rungproof.plant.part`: `variables`, `outputs`, `contacts`,
    `driven` (what wiring and circuits may drive) and `environment` (what people, the world,
    faults and noise set; a fault is a bool that starts off) map keys to their declarations.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = tuple(parts)
        problems = misfits(self.parts) or mistakes(self.parts)
        if problems:
            raise AssemblyError(problems)
        places = [_place(part) for part in self.parts]
        self._places = places
        self._movers = [place for place in places if isinstance(place.part, Mover)]
        self._vessels = [place for place in places if isinstance(place.part, Vessel)]
        self._others = [place for place in places if not isinstance(place.part, Mover | Vessel)]
        self._lookers = [place for place in places if place.shown]
        self._plain_shown = [
            f"{p.name}.{o.name}" for p in self.parts for o in p.outputs if o.name in {v.name for v in p.variables}
        ]
        self._switches = [place for place in places if place.contacts]
        self._mixing = [p.name for p in self.parts if mixes(p)]
        self._declare()
        self._start = self._settled()
        self.variables.update({key: replace(v, start=self._start[key]) for key, v in self.variables.items()})

    def _declare(self) -> None:
        parts = self.parts
        self.variables: dict[str, Variable] = {f"{p.name}.{v.name}": v for p in parts for v in p.variables}
        self.outputs: dict[str, Output] = {f"{p.name}.{o.name}": o for p in parts for o in p.outputs}
        self.contacts: dict[str, Contact] = {f"{p.name}.{c.name}": c for p in parts for c in p.contacts}
        self.driven: dict[str, Input] = {
            f"{p.name}.{i.name}": i for p in parts for i in p.inputs if i.source == "driven"
        }
        self.faults: dict[str, Fault] = {}
        self.environment: dict[str, Input] = {}
        for part in parts:
            for each in part.inputs:
                if each.source in ("operator", "disturbance"):
                    self.environment[f"{part.name}.{each.name}"] = each
                elif each.source == "noise":
                    self.environment[f"{part.name}~{each.name}"] = each
            self.faults.update({f"{part.name}!{fault.name}": fault for fault in part.faults})
            for contact in part.contacts:
                self.faults.update({f"{part.name}.{contact.name}!{fault.name}": fault for fault in CONTACT_FAULTS})
        for key, fault in self.faults.items():
            self.environment[key] = Input(fault.name, "disturbance", "bool", start=False)

    def start(self) -> dict[str, Any]:
        """The state at time 0."""
        return dict(self._start)

    def _settled(self) -> dict[str, Any]:
        state = {key: variable.start for key, variable in self.variables.items()}
        for _ in self.parts:
            before = dict(state)
            shown = self.look(PLAIN, state, {})
            for place in self._places:
                settled = place.part.settle(place.local(state), place.given(shown, {}, {}))
                state.update({key: settled[name] for name, key in place.state})
            if state == before:
                break
        return state

    def look(self, ops: Ops, state: Mapping[str, Value], env: Mapping[str, Value]) -> dict[str, Any]:
        """What every output and every contact is at this instant; faults of contacts are in.

        A contact that is welded is closed; one that stays open is open, welded or not.
        """
        shown = {key: state[key] for key in self._plain_shown}
        for place in self._lookers:
            seen = place.part.look(ops, place.local(state), place.failing(env))
            for name, key in place.shown:
                shown[key] = seen[name]
        for place in self._switches:
            local = place.local(state)
            for contact, key, welded, stays_open in place.contacts:
                closed = place.part.closed(ops, local, contact)
                if welded in env:
                    closed = ops.either(closed, env[welded])
                if stays_open in env:
                    closed = ops.both(closed, ops.inverse(env[stays_open]))
                shown[key] = closed
        return shown

    def tick(
        self,
        ops: Ops,
        state: Mapping[str, Value],
        look: Mapping[str, Value],
        drive: Mapping[str, Value],
        env: Mapping[str, Value],
    ) -> dict[str, Any]:
        """The state one tick later. `look` is `self.look` of the same state and environment.

        `drive` holds driven inputs, `env` everything of `environment`; what is missing from
        either takes its start value.
        """
        now = _Tick(ops, state, look, drive, env)
        carried = self._move(now)
        for place in self._vessels:
            name = place.part.name
            inputs = place.given(look, drive, env)
            inputs["gained"] = _sum([litres for litres, _ in carried.gained.get(name, ())])
            inputs["drawn"] = _sum(carried.drawn.get(name, ()))
            if name in carried.richness:
                rich = carried.richness
                inputs["gained_additive"] = _sum(
                    [litres * rich[source] for litres, source in carried.gained.get(name, ()) if source in rich]
                )
                inputs["drawn_additive"] = inputs["drawn"] * rich[name]
            now.step(place, inputs)
        for place in self._others:
            now.step(place, place.given(look, drive, env))
        return now.after

    def _move(self, now: _Tick) -> _Carried:
        """Step the movers in the order of their lines."""
        carried = _Carried({name: concentration(now.ops, now.store(name)) for name in self._mixing})
        left: dict[str, Any] = {}
        for place in self._movers:
            source = place.source
            inputs = place.given(now.look, now.drive, now.env)
            available = WORLD if source is None else left.get(source)
            if available is None:
                available = now.state[f"{source}.volume"]
            inputs["available"] = available
            if place.wants_richness:
                inputs["richness"] = carried.richness.get(source, 0.0) if source else 0.0
            moved = now.step(place, inputs)["moved"]
            if source is not None:
                left[source] = available - moved
                carried.drawn.setdefault(source, []).append(moved)
            if place.destination is not None:
                carried.gained.setdefault(place.destination, []).append((moved, source))
        return carried

    def total(self, state: Mapping[str, Any]) -> float:
        """Litres in the plant, spilled, and passed out less passed in: the same in every state of a run."""
        return self._balance(state, "volume", "spilled", "passed")

    def total_additive(self, state: Mapping[str, Any]) -> float:
        """Grams of additive in the plant, spilled and passed out: the same in every state of a run."""
        return self._balance(state, "additive", "spilled_additive", "passed_additive")

    def _balance(self, state: Mapping[str, Any], kept: str, spilled: str, passed: str) -> float:
        terms: list[float] = []
        for part in self.parts:
            if isinstance(part, Vessel):
                terms += [state.get(f"{part.name}.{kept}", 0.0), state.get(f"{part.name}.{spilled}", 0.0)]
            elif isinstance(part, Mover):
                amount = state.get(f"{part.name}.{passed}", 0.0)
                terms.append(amount if part.destination is None else -amount)
        return math.fsum(terms)


def _sum(amounts: Sequence[Value]) -> Any:
    """A left-to-right sum: every engine must add in the same order."""
    if not amounts:
        return 0.0
    total = amounts[0]
    for amount in amounts[1:]:
        total = total + amount
    return total
