"""A time-delay relay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import whole_ticks
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable


class DelayRelay(Part):
    """A relay whose contacts move late, either way.

        delay_relay KT1  operates after 5 s, make contact, break contact
        delay_relay KT2  releases after 10 s, make contact

    `operates after` (on-delay): operated when the coil has been live for the time, released at
    once. `releases after` (off-delay): operated at once, released when the coil has been dead
    for the time; it needs no auxiliary supply for that. With both, each has its own time. At
    the end of the tick that completes the time, and never in less than one tick. Input `coil`;
    shows `operated`, `elapsed` (ms, of the time that is running).
    Source: delayed make and break contacts, IEC 60617 and IEC 61812-1 (from memory).
    """

    kind = "delay_relay"
    clauses = (
        Clause("operates after {operates_after:ms}"),
        Clause("releases after {releases_after:ms}"),
        *CONTACT_CLAUSES,
    )
    faults = (
        Fault("coil_open", "the coil is broken: the relay never operates"),
        Fault("no_delay", "the time element has failed: its contacts move at once"),
        Fault("never_times_out", "the time never runs out"),
    )
    inputs = (Input("coil", "driven", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        if "operates_after" not in given and "releases_after" not in given:
            raise PartError("operates_after", "delays nothing", "write `operates after 5 s` or `releases after 5 s`")
        self._operates = max(dt_ms, whole_ticks(given, "operates_after", dt_ms, 0))
        self._releases = max(dt_ms, whole_ticks(given, "releases_after", dt_ms, 0))
        self.contacts = contacts_of(given)
        most = max(self._operates, self._releases)
        self.variables = (Variable("operated", "bool", False), Variable("elapsed", "int", 0, "ms", 0, most))
        self.outputs = (Output("operated", "bool"), Output("elapsed", "int", "ms", 0, most))

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["operated"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        operated = state["operated"]
        live = ops.both(inputs["coil"], ops.inverse(faults["coil_open"]))
        preset = ops.select(operated, self._releases, self._operates)
        elapsed = ops.min(state["elapsed"] + self.dt_ms, preset)
        over = ops.both(elapsed >= preset, ops.inverse(faults["never_times_out"]))
        due = ops.either(over, faults["no_delay"])
        at_rest = ops.same(live, operated)
        return {
            "operated": ops.select(due, live, operated),
            "elapsed": ops.select(ops.either(at_rest, due), 0, elapsed),
        }
