"""A tank: liquid with a level, which follows from the volume and the shape."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import flag, not_negative, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Output, PartError
from rungproof.plant.shapes import Cone, Dished, Head, Lying, Shape, Straight, Torispherical
from rungproof.plant.store import ADDITIVE_CLAUSE, Store

_SHAPES = ("upright", "lying", "rectangular")
_BOTTOMS = ("flat_bottom", "cone_depth", "hemispherical_bottom", "ellipsoidal_bottom", "torispherical_bottom")
_ENDS = ("hemispherical_ends", "ellipsoidal_ends", "torispherical_ends")


class Tank(Store):
    """A vessel that shows its level.

        tank header  upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
        tank silo    upright cylinder, diameter 2 m, height 3 m, cone bottom 1 m deep
        tank boiler  lying cylinder, diameter 1 m, length 2 m, ellipsoidal ends
        tank trough  rectangular, length 2 m, width 50 cm, height 60 cm, starts at 30 cm

    `height` is that of the straight wall; a shaped bottom comes below it. Level (cm) is
    measured from the lowest point inside. Bottoms of an upright cylinder: flat, a cone,
    hemispherical (depth R), ellipsoidal (2:1, depth R/2), torispherical (f = 1, k = 0.06);
    `... ends` shapes the top as well. A lying cylinder has flat, hemispherical or ellipsoidal
    ends. What goes in above the brim is `spilled` (L).

    The volume is the state; the level comes from it by `rungproof.plant.shapes`, within 1e-9
    of the height. Fault `leaking` loses 1 % of the capacity a minute (a declared size, no
    source), counted as spilled. Source: geometry; D. Jones, "Computing fluid tank volumes".
    """

    kind = "tank"
    clauses = (
        Clause("upright cylinder", flag="upright"),
        Clause("lying cylinder", flag="lying"),
        Clause("rectangular", flag="rectangular"),
        Clause("diameter {diameter:cm}"),
        Clause("height {height:cm}"),
        Clause("length {length:cm}"),
        Clause("width {width:cm}"),
        Clause("flat bottom", flag="flat_bottom"),
        Clause("cone bottom {cone_depth:cm} deep"),
        Clause("hemispherical bottom", flag="hemispherical_bottom"),
        Clause("ellipsoidal bottom", flag="ellipsoidal_bottom"),
        Clause("torispherical bottom", flag="torispherical_bottom"),
        Clause("hemispherical ends", flag="hemispherical_ends"),
        Clause("ellipsoidal ends", flag="ellipsoidal_ends"),
        Clause("torispherical ends", flag="torispherical_ends"),
        Clause("starts at {start:L}"),
        Clause("starts at {start_level:cm}"),
        ADDITIVE_CLAUSE,
    )
    faults = (Fault("leaking", "the tank leaks"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.shape = _shape(given)
        self.hold(self.shape.capacity, self._start())
        self.outputs += (Output("level", "real", "cm", 0.0, self.shape.height),)
        self._leak = self.shape.capacity * 0.01 / 60 * self.dt_s

    def _start(self) -> float:
        if "start_level" not in self.given:
            return not_negative(self.given, "start", 0.0)
        if "start" in self.given:
            raise PartError("start_level", "starts at a volume and at a level: one of them is enough")
        level = not_negative(self.given, "start_level")
        if level > self.shape.height:
            raise PartError("start_level", f"cannot start at {level:g} cm: it is {self.shape.height:g} cm high")
        return min(self.shape.volume(level), self.shape.capacity)

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        shown = super().look(ops, state, faults)
        level = self.shape.level(ops, state["volume"])
        shown["level"] = ops.max(0.0, ops.min(level, self.shape.height))
        return shown

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return self.hold_on(ops, state, inputs, ops.select(faults["leaking"], self._leak, 0.0))


def _shape(given: Mapping[str, Given]) -> Shape:
    shape = _one_of(given, _SHAPES)
    if shape is None:
        raise PartError(
            "upright", "says nothing of its shape", "write `upright cylinder`, `lying cylinder` or `rectangular`"
        )
    ends = _one_of(given, _BOTTOMS + _ENDS)
    if shape == "lying":
        _refuse(given, ("width", "height", *_BOTTOMS, "torispherical_ends"), "a lying cylinder")
        diameter = _needed(given, "diameter", "a lying cylinder")
        depth = {"hemispherical_ends": diameter / 2, "ellipsoidal_ends": diameter / 4}.get(ends or "", 0.0)
        return Lying(diameter, _needed(given, "length", "a lying cylinder"), depth)
    if shape == "rectangular":
        _refuse(given, ("diameter", *_BOTTOMS[1:], *_ENDS), "a rectangular tank")
        length, width, height = (_needed(given, slot, "a rectangular tank") for slot in ("length", "width", "height"))
        return Straight(length * width, height)
    _refuse(given, ("length", "width"), "an upright cylinder")
    diameter = _needed(given, "diameter", "an upright cylinder")
    bottom = _head(given, ends, diameter)
    top = bottom if ends in _ENDS else None
    return Straight(math.pi * diameter**2 / 4, _needed(given, "height", "an upright cylinder"), bottom, top)


def _head(given: Mapping[str, Given], ends: str | None, diameter: float) -> Head | None:
    if ends is None or ends == "flat_bottom":
        return None
    if ends == "cone_depth":
        return Cone(diameter / 2, positive(given, "cone_depth"))
    if ends.startswith("torispherical"):
        return Torispherical(diameter)
    return Dished(diameter / 2, diameter / (2 if ends.startswith("hemispherical") else 4))


def _one_of(given: Mapping[str, Given], slots: tuple[str, ...]) -> str | None:
    written = [slot for slot in slots if slot in given and (flag(given, slot) or slot == "cone_depth")]
    if len(written) > 1:
        raise PartError(written[1], "has two shapes: one of them must go")
    return written[0] if written else None


def _needed(given: Mapping[str, Given], slot: str, what: str) -> float:
    if slot not in given:
        raise PartError(slot, f"{what} needs its {slot}", f"add `{slot} 60 cm`, with its own number")
    return positive(given, slot)


def _refuse(given: Mapping[str, Given], slots: tuple[str, ...], what: str) -> None:
    for slot in slots:
        if slot in given:
            raise PartError(slot, f"{what} has no {slot.replace('_', ' ')}", "leave the clause out")
