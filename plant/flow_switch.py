"""A flow switch in a pipe."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import needed_part, not_negative, positive, whole_ticks
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable


class FlowSwitch(Part):
    """A paddle that the flow lifts, with hysteresis.

        flow_switch FS1  behind feed_pump, lifts at 3 L/min, falls at 2 L/min, make contact

        lifted' = flow >= lifts or (lifted and flow > falls)

    It looks at the `flow` of a pump, a valve or whatever carries. With `after 500 ms` it moves
    when the flow has stood on the other side for that long. Shows `lifted`; contacts are
    operated while it is. Source: common practice, no source.
    """

    kind = "flow_switch"
    clauses = (
        Clause("behind {mover:part}", required=True),
        Clause("lifts at {lifts:L/min}", required=True),
        Clause("falls at {falls:L/min}"),
        Clause("after {after:ms}"),
        *CONTACT_CLAUSES,
    )
    faults = (
        Fault("stuck_lifted", "the paddle hangs as if there were flow"),
        Fault("stuck_fallen", "the paddle hangs as if there were none"),
    )
    outputs = (Output("lifted", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._lifts = positive(given, "lifts")
        self._falls = not_negative(given, "falls", self._lifts)
        if self._falls > self._lifts:
            raise PartError("falls", f"falls at {self._falls:g} L/min, above the {self._lifts:g} L/min where it lifts")
        self._after = max(dt_ms, whole_ticks(given, "after", dt_ms, 0))
        self.contacts = contacts_of(given)
        self.variables = (
            Variable("lifted", "bool", False),
            Variable("waited_ms", "int", 0, None, 0, self._after),
        )
        mover = needed_part(given, "mover")
        self.inputs = (Input("flow", "part", "real", "L/min", 0.0, 1e9, of=f"{mover}.flow"),)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["lifted"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        before, flow = state["lifted"], inputs["flow"]
        wanted = ops.either(flow >= self._lifts, ops.both(before, flow > self._falls))
        waited = ops.min(state["waited_ms"] + self.dt_ms, self._after)
        due = waited >= self._after
        lifted = ops.select(due, wanted, before)
        lifted = ops.either(ops.both(lifted, ops.inverse(faults["stuck_fallen"])), faults["stuck_lifted"])
        at_rest = ops.either(ops.same(wanted, before), due)
        return {"lifted": lifted, "waited_ms": ops.select(at_rest, 0, waited)}
