"""A fan in a duct, and the switch that proves its air flow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, PartError, Variable
from rungproof.plant.travel import Lag

#: Above this share of full speed the impeller counts as turning (%).
TURNING = 1.0


class Fan(Part):
    """A fan whose air flow builds up and decays by a lag, with a flow switch.

        fan F1  runs up 3 s, runs down 8 s, airflow contact closes at 60 %, opens at 40 %

        flow' = flow + (target - flow) dt/(T + dt),  target 100 % or 0        backward Euler

    Flow in percent of the rated flow. Input `supply`; shows `energised`, `turning`, `flow` (%)
    and `proved`. Make contact `airflow` closes as the flow rises to the one threshold and opens
    as it falls to the other. Source: first-order lag, textbook; proving: common practice.
    """

    kind = "fan"
    clauses = (
        Clause("runs up {runs_up:s}"),
        Clause("runs down {runs_down:s}"),
        Clause("airflow contact closes at {closes_at:%}"),
        Clause("opens at {opens_at:%}"),
    )
    faults = (
        Fault("stalled", "the fan does not turn"),
        Fault("belt_broken", "the motor turns, the impeller does not"),
        Fault("blocked", "the duct is shut: it turns and moves no air"),
    )
    inputs = (Input("supply", "driven", "bool"),)
    variables = (
        Variable("energised", "bool", False),
        Variable("speed", "real", 0.0, "%", 0.0, 100.0),
        Variable("flow", "real", 0.0, "%", 0.0, 100.0),
        Variable("proved", "bool", False),
    )
    outputs = (
        Output("energised", "bool"),
        Output("turning", "bool"),
        Output("flow", "real", "%", 0.0, 100.0),
        Output("proved", "bool"),
    )
    contacts = (Contact("airflow", "make"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._lag = Lag(not_negative(given, "runs_up", 0.0), not_negative(given, "runs_down", 0.0), self.dt_s)
        self._closes = within(given, "closes_at", 1.0, 99.0, 50.0)
        self._opens = within(given, "opens_at", 0.0, 99.0, self._closes)
        if self._opens > self._closes:
            raise PartError("opens_at", "opens at a greater flow than it closes at")

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["proved"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        target = ops.select(inputs["supply"], 100.0, 0.0)
        speed = self._lag.followed(ops, state["speed"], target)
        speed = ops.select(faults["stalled"], 0.0, speed)
        cut = ops.either(faults["stalled"], ops.either(faults["belt_broken"], faults["blocked"]))
        flow = self._lag.followed(ops, state["flow"], ops.select(cut, 0.0, target))
        proved = ops.either(flow >= self._closes, ops.both(state["proved"], flow > self._opens))
        return {"energised": inputs["supply"], "speed": speed, "flow": flow, "proved": proved}

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"turning": state["speed"] > TURNING}
