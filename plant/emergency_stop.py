"""An emergency stop device that latches."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, Variable


class EmergencyStop(Part):
    """A mushroom head that stays in until someone deliberately pulls or turns it out.

        emergency_stop S0  latching, break contacts 2

    Input `pressed`: true while the head is latched in, false once it has been let out by hand.
    Shows `operated`, the position of its contacts, one tick later. `latching` must be written:
    a head that springs back by itself is no emergency stop. A model for the logic around it:
    the device itself belongs in hardwired, rated equipment.
    Source: latching and manual release, ISO 13850 and IEC 60947-5-5 (from memory).
    """

    kind = "emergency_stop"
    clauses = (Clause("latching", required=True, flag="latching"), *CONTACT_CLAUSES)
    faults = (
        Fault("seized", "the head cannot be pushed in"),
        Fault("stays_in", "once pushed in, the head cannot be let out"),
    )
    variables = (Variable("operated", "bool", False),)
    inputs = (Input("pressed", "operator", "bool"),)
    outputs = (Output("operated", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.contacts = contacts_of(given)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["operated"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        pushed = ops.both(inputs["pressed"], ops.inverse(faults["seized"]))
        return {"operated": ops.either(pushed, ops.both(state["operated"], faults["stays_in"]))}
