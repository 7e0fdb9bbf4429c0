"""A float switch in a tank."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import needed_part, not_negative
from rungproof.plant.operators import PLAIN, Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, PartError, Variable

#: So late a float follows that weed hangs on, and so long a dancing one stays up or down (ms).
#: Declared sizes, no source.
LATE_MS = 10_000
DANCE_MS = 200


class FloatSwitch(Part):
    """A float that lifts as the level rises, with hysteresis, and works one contact.

        float_switch LS1  in header, contact opens on rise at 95 cm, closes on fall at 92 cm
        float_switch LS3  in sump, contact closes on rise at 60 cm, opens on fall at 20 cm

        up' = level >= rise or (up and level > fall)

    `contact opens on rise` is a break contact, `contact closes on rise` a make contact: break
    and make as the float comes up. Shows `up`. Contact 1. The float at time 0 is up if the
    level then is above the rising point. Source: common practice, no source.
    """

    kind = "float_switch"
    clauses = (
        Clause("in {vessel:part}", required=True),
        Clause("contact opens on rise at {opens_on_rise:cm}"),
        Clause("closes on fall at {closes_on_fall:cm}"),
        Clause("contact closes on rise at {closes_on_rise:cm}"),
        Clause("opens on fall at {opens_on_fall:cm}"),
    )
    faults = (
        Fault("stuck_up", "the float hangs in its upper position"),
        Fault("stuck_down", "the float hangs in its lower position"),
        Fault("late", "weed hangs on the float: it follows ten seconds late"),
        Fault("bouncing", "the float dances on the waves between its two switching points"),
    )
    outputs = (Output("up", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        opens = "opens_on_rise" in given
        if not opens and "closes_on_rise" not in given:
            raise PartError("opens_on_rise", "says nothing of its contact", "write `contact opens on rise at 95 cm`")
        rise, fall = ("opens_on_rise", "closes_on_fall") if opens else ("closes_on_rise", "opens_on_fall")
        for wrong in ("closes_on_rise", "opens_on_fall") if opens else ("opens_on_rise", "closes_on_fall"):
            if wrong in given:
                raise PartError(wrong, "its one contact cannot both open and close on the same movement")
        self._rise = self.acts_at = not_negative(given, rise)
        self._fall = not_negative(given, fall, self._rise)
        if self._fall > self._rise:
            raise PartError(fall, f"falls back at {self._fall:g} cm, above the {self._rise:g} cm where it lifts")
        self.contacts = (Contact("1", "break" if opens else "make"),)
        self._dance = 2 * max(dt_ms, DANCE_MS - DANCE_MS % dt_ms)
        self.variables = (
            Variable("up", "bool", False),
            Variable("late_ms", "int", 0, None, 0, LATE_MS),
            Variable("dance_ms", "int", 0, None, 0, self._dance - dt_ms),
        )
        vessel = needed_part(given, "vessel")
        self.inputs = (Input("level", "part", "real", "cm", 0.0, 1e5, of=f"{vessel}.level"),)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["up"]

    def _lifted(self, ops: Ops, up: Value, level: Value) -> Any:
        return ops.either(level >= self._rise, ops.both(up, level > self._fall))

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        up, level = state["up"], inputs["level"]
        lifted = self._lifted(ops, up, level)
        between = ops.both(level > self._fall, level < self._rise)
        dance = ops.select(ops.both(faults["bouncing"], between), state["dance_ms"] + self.dt_ms, 0)
        lifted = ops.select(ops.both(faults["bouncing"], between), dance + dance < self._dance, lifted)
        hangs = ops.both(faults["late"], ops.inverse(ops.same(lifted, up)))
        late = ops.select(hangs, state["late_ms"] + self.dt_ms, 0)
        waits = ops.both(hangs, late < LATE_MS)
        held = ops.both(ops.select(waits, up, lifted), ops.inverse(faults["stuck_down"]))
        return {
            "up": ops.either(held, faults["stuck_up"]),
            "late_ms": ops.select(waits, late, 0),
            "dance_ms": ops.select(dance < self._dance, dance, 0),
        }

    def settle(self, state: Mapping[str, Any], inputs: Mapping[str, Any]) -> dict[str, Any]:
        return {**state, "up": self._lifted(PLAIN, state["up"], inputs["level"])}
