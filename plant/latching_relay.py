"""A latching relay: two coils, and an armature that stays where it was put."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Given, Input, Output, Part, Variable


class LatchingRelay(Part):
    """A relay that keeps its position without power.

        latching_relay K5  make contact, break contact

        latched' = set and not reset, or latched and set = reset

    Inputs `set_coil`, `reset_coil`; shows `latched`, one tick later. With both coils live the
    armature stays where it is (a declared choice: makers differ). Contacts are operated while
    it is latched. It starts reset, and a loss of supply changes nothing: what it starts after
    power comes back is the designer's care. Source: bistable relay, IEC 61810-1 (from memory).
    """

    kind = "latching_relay"
    clauses = CONTACT_CLAUSES
    faults = (
        Fault("set_coil_open", "the set coil is broken"),
        Fault("reset_coil_open", "the reset coil is broken"),
        Fault("sticks", "the armature stays where it is"),
    )
    inputs = (Input("set_coil", "driven", "bool"), Input("reset_coil", "driven", "bool"))
    variables = (Variable("latched", "bool", False),)
    outputs = (Output("latched", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.contacts = contacts_of(given)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["latched"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        sets = ops.both(inputs["set_coil"], ops.inverse(faults["set_coil_open"]))
        resets = ops.both(inputs["reset_coil"], ops.inverse(faults["reset_coil_open"]))
        idle = ops.either(ops.same(sets, resets), faults["sticks"])
        return {"latched": ops.select(idle, state["latched"], sets)}
