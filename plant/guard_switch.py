"""A position switch on a movable guard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import flag
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, Variable


class GuardSwitch(Part):
    """A switch that is operated while its guard is closed.

        guard_switch G1  make contacts 2
        guard_switch G2  starts closed, make contact, break contact

    Input `closed`: the guard is shut. Shows `operated`, the position of its contacts, one tick
    later. The guard starts open unless the line says `starts closed`. A model for the logic
    around it; guards and their switches belong in rated equipment.
    Source: interlocking devices, ISO 14119 (from memory).
    """

    kind = "guard_switch"
    clauses = (Clause("starts closed", flag="starts_closed"), *CONTACT_CLAUSES)
    faults = (
        Fault("defeated", "someone has fixed a spare actuator in the switch"),
        Fault("sticks", "the switch stays operated once the guard has been closed"),
        Fault("misses", "the actuator misses the switch"),
    )
    outputs = (Output("operated", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        start = flag(given, "starts_closed")
        self.variables = (Variable("operated", "bool", start),)
        self.inputs = (Input("closed", "operator", "bool", start=start),)
        self.contacts = contacts_of(given)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["operated"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        shut = ops.both(inputs["closed"], ops.inverse(faults["misses"]))
        kept = ops.both(state["operated"], faults["sticks"])
        return {"operated": ops.either(ops.either(shut, kept), faults["defeated"])}
