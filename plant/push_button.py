"""A push-button: operated while it is pressed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Given, Input, Output, Part, Variable

#: How long the contacts of a worn button bounce, and how long a hammering hand holds and lets go
#: (ms). Declared sizes, no source; bounce of some ms to some tens of ms is common practice.
BOUNCE_MS = 20
HAMMER_MS = 100


class PushButton(Part):
    """A button that springs back.

        push_button S1  make contact
        push_button S2  make contact, break contact
        push_button S3  make contacts 2

    Input `pressed`. Shows `operated`, the position of its contacts, one tick after the hand.
    Contacts count from 1 in the order in which the clauses stand.
    Source: make and break, IEC 60050-444 (from memory).
    """

    kind = "push_button"
    clauses = CONTACT_CLAUSES
    faults = (
        Fault("taped", "someone has taped the button down"),
        Fault("jammed", "once pressed, the button does not spring back"),
        Fault("seized", "the button cannot be pressed"),
        Fault("bouncing", "the contacts bounce for 20 ms whenever it moves"),
        Fault("hammered", "someone hammers on the button, five times a second"),
    )
    inputs = (Input("pressed", "operator", "bool"),)
    outputs = (Output("operated", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.contacts = contacts_of(given)
        self._bounce = max(dt_ms, BOUNCE_MS - BOUNCE_MS % dt_ms)
        self._beat = 2 * max(dt_ms, HAMMER_MS - HAMMER_MS % dt_ms)
        self.variables = (
            Variable("operated", "bool", False),
            Variable("bounces_ms", "int", 0, None, 0, self._bounce),
            Variable("beat_ms", "int", 0, None, 0, self._beat - dt_ms),
        )

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["operated"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        free = ops.both(inputs["pressed"], ops.inverse(faults["seized"]))
        kept = ops.both(state["operated"], faults["jammed"])
        beaten = ops.both(faults["hammered"], state["beat_ms"] + state["beat_ms"] < self._beat)
        held = ops.either(ops.either(free, kept), ops.either(faults["taped"], beaten))
        left = state["bounces_ms"]
        moves = ops.both(faults["bouncing"], ops.inverse(ops.either(left > 0, ops.same(held, state["operated"]))))
        shakes = ops.both(faults["bouncing"], left > self.dt_ms)
        beat = state["beat_ms"] + self.dt_ms
        return {
            "operated": ops.select(shakes, ops.inverse(state["operated"]), held),
            "bounces_ms": ops.select(moves, self._bounce, ops.select(shakes, left - self.dt_ms, 0)),
            "beat_ms": ops.select(ops.both(faults["hammered"], beat < self._beat), beat, 0),
        }
