"""An overload relay that watches a motor."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import flag, needed_part, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, Variable

#: A sum of shares of 1 counts as 1 from here: the shares are no exact binary fractions.
HOT = 1.0 - 1e-9


class OverloadRelay(Part):
    """A thermal relay: warm while its motor draws too much, tripped when it has for long enough.

        overload_relay F2  watches M1, trips after 10 s, cools in 1 min, make contact, break contact
        overload_relay F3  watches M2, trips after 10 s, cools in 1 min, automatic reset, break contact

        too much = energised and (not turning or overloaded)
        heat'    = heat + dt/trip time while too much, else heat - dt/cooling time, within 0..1
        tripped' = heat >= 1, or tripped and not reset

    Input `overloaded` (a disturbance): the load is too heavy. `energised` and `turning` are
    the watched part's. Reset is possible once it has cooled: by a fresh press of `reset`, or
    by itself where it has `automatic reset`, which restarts whatever stands in series with
    nothing else. It trips free: a held reset neither resets it nor keeps it from tripping.
    Shows `tripped`, `heat` (0..1). A single time, not the trip curve of a class.
    Source: overload relays, trip-free and reset, IEC 60947-4-1 (from memory).
    """

    kind = "overload_relay"
    clauses = (
        Clause("watches {motor:part}", required=True),
        Clause("trips after {trips_after:s}", required=True),
        Clause("cools in {cools_in:s}"),
        Clause("automatic reset", flag="automatic"),
        *CONTACT_CLAUSES,
    )
    faults = (
        Fault("does_not_trip", "the relay no longer trips"),
        Fault("trips_early", "the relay trips though nothing is too heavy"),
    )
    variables = (
        Variable("tripped", "bool", False),
        Variable("heat", "real", 0.0, None, 0.0, 1.0),
        Variable("finger", "bool", False),
    )
    outputs = (Output("tripped", "bool"), Output("heat", "real", None, 0.0, 1.0))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        motor = needed_part(given, "motor")
        self._warms = self.dt_s / positive(given, "trips_after")
        self._cools = self.dt_s / positive(given, "cools_in", 60.0)
        self.automatic = flag(given, "automatic")
        self.contacts = contacts_of(given)
        self.inputs = (
            Input("overloaded", "disturbance", "bool", start=False),
            Input("energised", "part", "bool", of=f"{motor}.energised"),
            Input("turning", "part", "bool", of=f"{motor}.turning"),
        )
        if not self.automatic:
            self.inputs += (Input("reset", "operator", "bool"),)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["tripped"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        heavy = ops.either(inputs["overloaded"], ops.inverse(inputs["turning"]))
        too_much = ops.both(inputs["energised"], heavy)
        heat = ops.select(too_much, state["heat"] + self._warms, state["heat"] - self._cools)
        heat = ops.max(0.0, ops.min(heat, 1.0))
        finger = False if self.automatic else inputs["reset"]
        pressed = True if self.automatic else ops.both(finger, ops.inverse(state["finger"]))
        resets = ops.both(pressed, heat <= 0.0)
        hot = ops.both(heat >= HOT, ops.inverse(faults["does_not_trip"]))
        hot = ops.either(hot, faults["trips_early"])
        tripped = ops.either(hot, ops.both(state["tripped"], ops.inverse(resets)))
        return {"tripped": tripped, "heat": heat, "finger": finger}
