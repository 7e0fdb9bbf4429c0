"""A motor."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, Variable
from rungproof.plant.travel import Lag

#: Above this share of full speed the shaft counts as turning (%).
TURNING = 1.0

#: How many times longer the shaft coasts without its brake. A declared size, no source.
COASTS = 5.0


class Motor(Part):
    """A motor that runs up under supply and runs down without it.

        motor M1  runs up 1 s, runs down 5 s

        speed' = speed + (target - speed) dt/(T + dt),  target 100 % or 0     backward Euler

    T is the time constant: 63 % of the way. Input `supply`; shows `energised`, `speed` (%) and
    `turning` (above 1 %). Source: first-order lag, textbook.
    """

    kind = "motor"
    clauses = (Clause("runs up {runs_up:s}"), Clause("runs down {runs_down:s}"))
    faults = (
        Fault("stalled", "the motor does not turn"),
        Fault("coasts", "the brake is worn: it runs down five times as slowly"),
    )
    inputs = (Input("supply", "driven", "bool"),)
    variables = (Variable("energised", "bool", False), Variable("speed", "real", 0.0, "%", 0.0, 100.0))
    outputs = (Output("energised", "bool"), Output("turning", "bool"), Output("speed", "real", "%", 0.0, 100.0))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        up_s, down_s = (not_negative(given, slot, 0.0) for slot in ("runs_up", "runs_down"))
        self._lag = Lag(up_s, down_s, self.dt_s)
        self._coasting = Lag(up_s, COASTS * down_s, self.dt_s)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        target = ops.select(inputs["supply"], 100.0, 0.0)
        speed = self._lag.followed(ops, state["speed"], target)
        speed = ops.select(faults["coasts"], self._coasting.followed(ops, state["speed"], target), speed)
        return {"energised": inputs["supply"], "speed": ops.select(faults["stalled"], 0.0, speed)}

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"turning": state["speed"] > TURNING}
