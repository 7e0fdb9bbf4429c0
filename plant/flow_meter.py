"""A flow meter: a signal, and a pulse for every so many litres."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import interval, needed_part, not_negative, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, PartError, Variable

#: A drifting meter reads so much more. A declared size, no source.
DRIFT = 1.1


class FlowMeter(Part):
    """Measures what a pump, a valve or an outlet carries.

        flow_meter FT1  behind feed_pump, reads 0..20 L/min as 4..20 mA, lag 1 s, pulse 500 mL

        seen'   = seen + (flow - seen) dt/(lag + dt)                        backward Euler
        signal  = from + (to - from)(seen - least)/(most - least), held within from..to
        part'   = part + flow dt, less one pulse when it has reached it

    `pulse`: make contact `pulse` is closed for the second half of every such volume; a flow of
    more than half a pulse a tick cannot be counted and counts as that. Shows `signal` (V or mA)
    and `seen` (L/min). Source: first-order lag, textbook; signals: IEC 60381 (from memory).
    """

    kind = "flow_meter"
    clauses = (
        Clause("behind {mover:part}", required=True),
        Clause("reads {reads:L/min..} as {voltage:V..}"),
        Clause("reads {reads:L/min..} as {current:mA..}"),
        Clause("lag {lag:s}"),
        Clause("pulse {pulse:L}"),
    )
    faults = (
        Fault("reads_zero", "the meter reads no flow, and its pulses stay away"),
        Fault("frozen", "the reading stays where it is"),
        Fault("drifting", "the meter reads a tenth too much"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        if "reads" not in given:
            raise PartError("reads", "says nothing of what it reads", "write `reads 0..20 L/min as 4..20 mA`")
        self.unit = "mA" if "current" in given else "V"
        self._least, most = interval(given, "reads", low=0.0)
        self._from, self._to = interval(given, "current" if self.unit == "mA" else "voltage")
        self._slope = (self._to - self._from) / (most - self._least)
        self._share = self.dt_s / (not_negative(given, "lag", 0.0) + self.dt_s)
        self._most = DRIFT * 1e9
        self.inputs = (Input("flow", "part", "real", "L/min", 0.0, 1e9, of=f"{needed_part(given, 'mover')}.flow"),)
        self.variables = (Variable("seen", "real", 0.0, "L/min", 0.0, self._most),)
        self.outputs = (Output("seen", "real", "L/min", 0.0, self._most), self._signal_output())
        self._pulse = positive(given, "pulse") if "pulse" in given else None
        if self._pulse is not None:
            self.variables += (Variable("part", "real", 0.0, "L", 0.0, 1.5 * self._pulse),)
            self.contacts = (Contact("pulse", "make"),)

    def _signal_output(self) -> Output:
        return Output("signal", "real", self.unit, self._from, self._to)

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        assert self._pulse is not None, "only a meter with pulses has a contact"
        return state["part"] >= self._pulse / 2

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        signal = self._from + (state["seen"] - self._least) * self._slope
        return {"signal": ops.max(self._from, ops.min(signal, self._to))}

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        flow = ops.select(faults["drifting"], DRIFT * inputs["flow"], inputs["flow"])
        flow = ops.select(faults["reads_zero"], 0.0, flow)
        followed = state["seen"] + (flow - state["seen"]) * self._share
        followed = ops.max(0.0, ops.min(followed, self._most))
        after: dict[str, Any] = {"seen": ops.select(faults["frozen"], state["seen"], followed)}
        if self._pulse is not None:
            added = ops.min(flow * (self.dt_s / 60), self._pulse / 2)
            grown = ops.min(state["part"] + added, 1.5 * self._pulse)
            after["part"] = ops.select(grown >= self._pulse, grown - self._pulse, grown)
        return after
