"""A push-button: operated while it is pressed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Given, Input, Output, Part, Variable


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
        free = ops.both(inputs["pressed"], ops.inverse(faults["seized"]))
        kept = ops.both(state["operated"], faults["jammed"])
        return {"operated": ops.either(ops.either(free, kept), faults["taped"])}
