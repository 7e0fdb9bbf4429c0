"""A two-channel stop module with monitored reset."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import flag, whole_ticks
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable


class SafetyModule(Part):
    """Two channels, two internal relays with linked contacts, a reset that is watched.

        safety_module K9  discrepancy 500 ms, monitored reset, make contacts 2, break contact
        safety_module K8  automatic reset, make contacts 2

        ok       = supply and channel_1 and channel_2 and not locked
        locked'  = the channels have differed for longer than `discrepancy`, or one of them has
                   gone and come back while the other stayed; until both have been open together
        relay_i' = ok, and (relay_i or it may start)

    It may start at the falling edge of `reset` (monitored: the button is let go), and only if
    both internal relays were out and the read-back closed throughout the press; with
    `automatic reset` as soon as the channels are closed, the relays out and the read-back
    closed. Inputs (all driven): `supply`, `channel_1`, `channel_2`, `reset`, `read_back`, the
    break contacts of what it switches, in series (closed where nothing is wired to it). Make
    contacts are the two relays' in series, so that one welded relay opens nothing less; break
    contacts are closed while either relay is out. Shows `on`, `locked`. Each change takes one tick.

    A generic model for the logic around it. It is no rated device and gives no category or level.
    Source: two channels, monitored manual reset: ISO 13849-1 5.2.2 and IEC 60204-1; linked
    contacts: IEC 60947-5-1 Annex L (from memory).
    """

    kind = "safety_module"
    clauses = (
        Clause("discrepancy {discrepancy:ms}"),
        Clause("monitored reset", flag="monitored"),
        Clause("automatic reset", flag="automatic"),
        *CONTACT_CLAUSES,
    )
    faults = (
        Fault("relay_1_sticks", "its first internal relay has welded and stays in"),
        Fault("relay_2_sticks", "its second internal relay has welded and stays in"),
        Fault("dead", "the module no longer switches on"),
    )
    outputs = (Output("on", "bool"), Output("locked", "bool"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.monitored = flag(given, "monitored")
        if self.monitored == flag(given, "automatic"):
            raise PartError(
                "automatic" if self.monitored else "monitored",
                "is reset either by hand, monitored, or automatically",
                "write `monitored reset` or `automatic reset`",
            )
        self._most = max(dt_ms, whole_ticks(given, "discrepancy", dt_ms, 500))
        self.contacts = contacts_of(given)
        driven = ("supply", "channel_1", "channel_2") + (("reset",) if self.monitored else ())
        self.inputs = tuple(Input(each, "driven", "bool") for each in driven)
        self.inputs += (Input("read_back", "driven", "bool", start=True),)
        self.variables = (
            Variable("relay_1", "bool", False),
            Variable("relay_2", "bool", False),
            Variable("locked", "bool", False),
            Variable("differ_ms", "int", 0, None, 0, self._most + dt_ms),
            Variable("one_gone", "bool", False),
            Variable("armed", "bool", False),
        )

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return ops.both(state["relay_1"], state["relay_2"])

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"on": self.operated(ops, state)}

    def _watched(self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value]) -> dict[str, Any]:
        """Discrepancy and lock-out after a tick. Without supply the module forgets: both count as open."""
        first, second = inputs["channel_1"], inputs["channel_2"]
        differ = ops.inverse(ops.same(first, second))
        neither = ops.inverse(ops.either(first, second))
        rest = ops.either(neither, ops.inverse(inputs["supply"]))
        differ_ms = ops.select(differ, ops.min(state["differ_ms"] + self.dt_ms, self._most + self.dt_ms), 0)
        was_on = ops.either(state["relay_1"], state["relay_2"])
        one_gone = ops.either(state["one_gone"], ops.both(was_on, differ))
        back = ops.both(state["one_gone"], ops.both(first, second))
        wrong = ops.either(differ_ms > self._most, back)
        locked = ops.both(ops.either(state["locked"], wrong), ops.inverse(rest))
        return {
            "differ_ms": ops.select(rest, 0, differ_ms),
            "one_gone": ops.both(one_gone, ops.inverse(rest)),
            "locked": locked,
        }

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        after = self._watched(ops, state, inputs)
        healthy = ops.both(inputs["supply"], ops.inverse(faults["dead"]))
        closed = ops.both(inputs["channel_1"], inputs["channel_2"])
        ok = ops.both(ops.both(healthy, closed), ops.inverse(after["locked"]))
        out = ops.inverse(ops.either(state["relay_1"], state["relay_2"]))
        may = ops.both(ok, ops.both(out, inputs["read_back"]))
        if self.monitored:
            # armed: the button went down while all was ready, and all has stayed so since
            starts = ops.both(ops.both(state["armed"], may), ops.inverse(inputs["reset"]))
            after["armed"] = ops.both(may, inputs["reset"])
        else:
            starts = may
            after["armed"] = False
        for relay in ("relay_1", "relay_2"):
            held = ops.both(ok, ops.either(self.operated(ops, state), starts))
            after[relay] = ops.either(held, ops.both(state[relay], faults[f"{relay}_sticks"]))
        return after
