"""A user's own part: an immersion heater with a thermostat, as it would stand in a file of one's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant import Clause, Contact, Fault, Input, Ops, Output, Part, PartError, Value, Variable


class Heater(Part):
    """Heats its vessel's contents, taken as `holding` litres of water, and loses heat to the air.

        heater E1  power 3 kW, holding 100 L, loses 12 W, thermostat opens at 60 degC, closes at 55 degC

        T' = T + (P on - loss (T - 20)) dt / (4186 holding)

    Input `supply`; shows `energised`, `temperature` (degC). Break contact 1: the thermostat.
    `loses` is in watts per kelvin above 20 degC. Source: heat balance, c = 4186 J/(kg K) of water.
    """

    kind = "heater"
    clauses = (
        Clause("power {power:W}", required=True),
        Clause("holding {litres:L}", required=True),
        Clause("loses {loss:W}"),
        Clause("thermostat opens at {opens:degC}", required=True),
        Clause("closes at {closes:degC}", required=True),
    )
    faults = (Fault("burnt_out", "the element is broken"), Fault("scaled", "scale halves what the element gives"))
    inputs = (Input("supply", "driven", "bool"),)
    variables = (
        Variable("energised", "bool", False),
        Variable("temperature", "real", 20.0, "degC", 0.0, 100.0),
        Variable("hot", "bool", False),
    )
    outputs = (Output("energised", "bool"), Output("temperature", "real", "degC", 0.0, 100.0))
    contacts = (Contact("1", "break"),)

    def __init__(self, name: str, given: Mapping[str, Any], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        if given["closes"] > given["opens"]:
            raise PartError("closes", "closes at a higher temperature than it opens at")
        per_kelvin = 4186 * given["litres"]
        self.rise = given["power"] * self.dt_s / per_kelvin
        self.fall = given.get("loss", 0.0) * self.dt_s / per_kelvin

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["hot"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        gained = ops.select(faults["scaled"], 0.5 * self.rise, self.rise)
        heats = ops.both(inputs["supply"], ops.inverse(faults["burnt_out"]))
        warm = state["temperature"] + ops.select(heats, gained, 0.0) - (state["temperature"] - 20.0) * self.fall
        warm = ops.max(0.0, ops.min(warm, 100.0))
        hot = ops.either(warm >= self.given["opens"], ops.both(state["hot"], warm > self.given["closes"]))
        return {"energised": inputs["supply"], "temperature": warm, "hot": hot}
