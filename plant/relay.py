"""A relay: a coil that moves an armature, which moves contacts, each after its time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import whole_ticks
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable

#: How many times longer a slow relay takes. A declared size, no source.
SLOW = 5


class Relay(Part):
    """A relay with pull-in and drop-out times.

        relay K1  pulls in 20 ms, drops out 30 ms, make contacts 3

    The armature moves at the end of the tick in which the coil has stood long enough the other
    way; a coil that changes back starts the time anew. Times are whole ticks; none moves in
    less than one tick, so every loop of contacts and coils passes through state. Input `coil`;
    shows `pulled_in`. Contacts count from 1 in the order in which the clauses stand.
    Source: operate and release time, IEC 61810-1 (from memory).
    """

    kind = "relay"
    clauses = (Clause("pulls in {pulls_in:ms}"), Clause("drops out {drops_out:ms}"), *CONTACT_CLAUSES)
    faults = (
        Fault("coil_open", "the coil is broken: the relay cannot pull in"),
        Fault("sticks", "once pulled in, the armature does not drop out"),
        Fault("slow", "the armature takes five times as long"),
    )
    inputs = (Input("coil", "driven", "bool"),)
    outputs = (Output("pulled_in", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._pulls_in = max(dt_ms, whole_ticks(given, "pulls_in", dt_ms, 0))
        self._drops_out = max(dt_ms, whole_ticks(given, "drops_out", dt_ms, 0))
        self.contacts = self._contacts(given)
        longest = SLOW * max(self._pulls_in, self._drops_out)
        self.variables = (
            Variable("pulled_in", "bool", False),
            Variable("waited_ms", "int", 0, None, 0, longest - dt_ms),
        )

    def _contacts(self, given: Mapping[str, Given]) -> tuple[Contact, ...]:
        return contacts_of(given)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["pulled_in"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        pulled_in = state["pulled_in"]
        wanted = ops.both(inputs["coil"], ops.inverse(faults["coil_open"]))
        wanted = ops.either(wanted, ops.both(pulled_in, faults["sticks"]))
        waited = state["waited_ms"] + self.dt_ms
        slow = ops.select(pulled_in, SLOW * self._drops_out, SLOW * self._pulls_in)
        quick = ops.select(pulled_in, self._drops_out, self._pulls_in)
        due = waited >= ops.select(faults["slow"], slow, quick)
        at_rest = ops.same(wanted, pulled_in)
        return {
            "pulled_in": ops.select(due, wanted, pulled_in),
            "waited_ms": ops.select(ops.either(at_rest, due), 0, waited),
        }
