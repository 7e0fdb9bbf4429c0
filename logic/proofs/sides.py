"""Two versions of a controller, cut to what can be laid side by side: the same inputs, parameters and scan times.

A comparison is of controllers: whatever the plant can give, their inputs are left free. What only one
of the two has is named, and so is what the two have otherwise than by their rungs.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.knobs import Surroundings, knobs_of
from rungproof.logic.meaning.program import Assumption, Controller, Program, Tag
from rungproof.logic.proofs.system_builder import ScanBuilder, assumption_monitors
from rungproof.logic.proofs.system_stops import StopsScanBuilder
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.plant import lower_plant
from rungproof.logic.steps.step import Step

#: The output of a side that says whether every assumption has held so far.
HELD = "held"


class IncomparableError(ValueError):
    """Raised where two controllers have nothing that could be laid side by side; says why in plain words."""


@dataclass(frozen=True)
class Side:
    """One of the two: its Step, sliced to what the compared outputs need, and `alone`, the same controller
    without plant, for the replay. `shared` are its input tags and parameters that the other has too."""

    step: Step
    alone: Program
    shared: frozenset[str]
    parameters: frozenset[str]


#: Scan times, input tags or parameters whose ranges are not the same in both.
Narrowed = Literal["scan", "input", "parameter"]


@dataclass(frozen=True)
class Sides:
    """`outputs` are compared, `remarks` name what is not, `only` what one of the two alone has. `narrowed` says of what
    only the part was compared that both have."""

    old: Side
    new: Side
    outputs: tuple[str, ...]
    only: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]
    tick: int
    narrowed: frozenset[Narrowed] = frozenset()


def sides_of(old: Program, new: Program, names: Collection[str] | None = None) -> Sides:
    """Lay two programs side by side. `names`: the outputs to compare, of those that both have (all if None).

    Raises `IncomparableError`.
    """
    if old.controller is None or new.controller is None:
        raise IncomparableError("one of the two has no controller")
    a, b = old.controller, new.controller
    scan = max(a.scan_low, b.scan_low), min(a.scan_high, b.scan_high)
    if scan[0] > scan[1]:
        raise IncomparableError(f"no scan time is one of both: {_scan_words(a)} and {_scan_words(b)}")
    outputs = tuple(n for n in _of(a, "output") if n in _of(b, "output") and a.tags[n].type == b.tags[n].type)
    outputs = tuple(name for name in outputs if names is None or name in names)
    if not outputs:
        raise IncomparableError("there is no output that both have")
    assumed = _assumed_by_both(old, new)
    stops = any(a.tags[name].on_stop != b.tags[name].on_stop for name in outputs)
    tick = _tick(old) if _tick(old) == _tick(new) else 1
    shared = _shared(a, b)
    make = _Maker(scan, tick, assumed, stops, outputs, shared)
    remarks = _remarks(old, new, scan, len(assumed))
    return Sides(make.side(old, new), make.side(new, old), outputs, _only(a, b), remarks, tick, _narrowed(a, b))


def _narrowed(a: Controller, b: Controller) -> frozenset[Narrowed]:
    found: set[Narrowed] = set()
    if (a.scan_low, a.scan_high) != (b.scan_low, b.scan_high):
        found.add("scan")
    for name in _shared(a, b):
        one, other = a.tags[name], b.tags[name]
        if (one.low, one.high) != (other.low, other.high):
            found.add("input" if one.role == "input" else "parameter")
    return frozenset(found)


@dataclass(frozen=True)
class _Maker:
    scan: tuple[int, int]
    tick: int
    assumed: tuple[Assumption, ...]
    stops: bool
    outputs: tuple[str, ...]
    shared: frozenset[str]

    def side(self, program: Program, other: Program) -> Side:
        controller, theirs = program.controller, other.controller
        assert controller is not None, "sides have controllers"
        assert theirs is not None, "sides have controllers"
        controller = replace(controller, scan_low=self.scan[0], scan_high=self.scan[1])
        program = replace(program, controller=controller, assumptions=self.assumed)
        builder = (StopsScanBuilder if self.stops else ScanBuilder)(program, controller, tick=self.tick)
        seen, held = builder.scanned(assumption_monitors(program))
        for name, each in list(builder.inputs.items()):
            if name in self.shared:
                its = ScanBuilder(other, theirs, tick=self.tick).range_of(theirs.tags[name])
                builder.inputs[name] = replace(each, low=max(each.low, its.low), high=min(each.high, its.high))
        for name in self.shared & builder.states.keys():
            low, high = _both(controller.tags[name], theirs.tags[name])
            builder.states[name] = replace(builder.states[name], low=low, high=high)
        shown: dict[str, Node] = {**{name: seen[name] for name in self.outputs}, HELD: held}
        step = Step(builder.states, builder.inputs, builder.next, shown).slice(list(shown))
        parameters = frozenset(name for name in _of(controller, "parameter") if name in step.states)
        return Side(step, alone(program, self.assumed), self.shared, parameters)


def alone(program: Program, assumed: tuple[Assumption, ...] = ()) -> Program:
    """The controller of `program` without plant and without requirements: its inputs are set as tags."""
    assert program.controller is not None, "there is a controller"
    knobs = knobs_of(Surroundings(program.controller.tags, None, {}, True))
    return replace(program, plant=None, hazards=(), requirements=(), scenarios=(), assumptions=assumed, knobs=knobs)


def _both(a: Tag, b: Tag) -> tuple[float | int, float | int]:
    return max(a.low, b.low), min(a.high, b.high)


def _shared(a: Controller, b: Controller) -> frozenset[str]:
    """Input tags and parameters of one name, one role and one type whose ranges meet."""
    found = set()
    for role in ("input", "parameter"):
        for name in set(_of(a, role)) & set(_of(b, role)):
            low, high = _both(a.tags[name], b.tags[name])
            if a.tags[name].type == b.tags[name].type and low <= high:
                found.add(name)
    return frozenset(found)


def _of(controller: Controller, role: str) -> list[str]:
    return [tag.name for tag in controller.tags.values() if tag.role == role]


def _tick(program: Program) -> int:
    return program.plant.tick if program.plant is not None else 1


def _assumed_by_both(old: Program, new: Program) -> tuple[Assumption, ...]:
    said = [each.condition for each in new.assumptions if each.instants == "scan"]
    return tuple(each for each in old.assumptions if each.instants == "scan" and each.condition in said)


def _only(a: Controller, b: Controller) -> tuple[tuple[str, str], ...]:
    """(`old` or `new`, tag in words) for inputs, outputs and parameters that one alone has."""
    found = []
    for which, one, other in (("old", a, b), ("new", b, a)):
        for tag in one.tags.values():
            its = other.tags.get(tag.name)
            if tag.role != "memory" and (its is None or (its.role, its.type) != (tag.role, tag.type)):
                found.append((which, f"{tag.role} `{tag.name}`"))
    return tuple(found)


def _scan_words(controller: Controller) -> str:
    low, high = time_words(controller.scan_low), time_words(controller.scan_high)
    return f"every {low}" if low == high else f"every {low} to {high}"


def _remarks(old: Program, new: Program, scan: tuple[int, int], assumed: int) -> tuple[str, ...]:
    """What the two have otherwise than by their rungs, in words."""
    a, b = old.controller, new.controller
    assert a is not None, "sides have controllers"
    assert b is not None, "sides have controllers"
    told = []
    if (a.scan_low, a.scan_high) != (b.scan_low, b.scan_high):
        times = time_words(scan[0]) if scan[0] == scan[1] else f"{time_words(scan[0])} to {time_words(scan[1])}"
        told.append(f"old scans {_scan_words(a)}, new {_scan_words(b)}: compared at {times}, which both can do")
    for name in sorted(_shared(a, b)):
        told += _other_meaning(a.tags[name], b.tags[name])
    there = sum(each.instants == "scan" for each in (*old.assumptions, *new.assumptions))
    if there > 2 * assumed:
        told.append("an assumption that only one of the two makes was not made")
    if not same_plant(old, new):
        told.append("the plant or the wiring is not the same in the two: only the controllers were compared")
    return tuple(told)


def _other_meaning(old: Tag, new: Tag) -> list[str]:
    """What an input or a parameter of one name has otherwise in the other."""
    told, name = [], old.name
    if (old.low, old.high) != (new.low, new.high):
        ranges = f"{old.low:g}..{old.high:g} in old, {new.low:g}..{new.high:g} in new"
        told.append(f"`{name}` is {ranges}: compared in both ranges")
    if old.unit != new.unit:
        told.append(f"`{name}` has another unit in old and new: compared as plain numbers")
    if old.role == "parameter" and old.start != new.start:
        told.append(f"`{name}` starts at {old.start} in old, at {new.start} in new: compared at equal values")
    return told


def same_plant(old: Program, new: Program) -> bool:
    """Whether plant, circuits and wiring come to the same expressions."""
    if old.plant is None or new.plant is None:
        return old.plant is new.plant
    a, b = lower_plant(old.plant, old.controller), lower_plant(new.plant, new.controller)
    return (a.tick, a.look, a.read, a.powered) == (b.tick, b.look, b.read, b.powered)
