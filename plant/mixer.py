"""A mixer in a vessel."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable
from rungproof.plant.travel import Lag

#: Above this share of full speed the shaft counts as turning (%).
TURNING = 1.0


class Mixer(Part):
    """An agitator, and how well mixed what it stands in has become.

        mixer A1  mixes in 30 s, settles in 10 min, runs up 1 s, runs down 2 s

        speed' = speed + (target - speed) dt/(T + dt),  target 100 % or 0        backward Euler
        mixed' = mixed + (speed - mixed) dt/(M + dt) while it turns; towards 0 by the settling time

    `mixes in` and `settles in` are time constants: 63 % of the way. Input `supply`; shows
    `energised`, `turning`, `mixed` (%). Make contact `turns` is closed while the shaft turns.
    Vessels themselves are taken as mixed at once: `mixed` is for interlocks that wait for it.
    Source: first-order mixing, chemical engineering textbooks (from memory).
    """

    kind = "mixer"
    clauses = (
        Clause("mixes in {mixes_in:s}", required=True),
        Clause("settles in {settles_in:s}"),
        Clause("runs up {runs_up:s}"),
        Clause("runs down {runs_down:s}"),
    )
    faults = (
        Fault("stalled", "the mixer does not turn"),
        Fault("shaft_broken", "the motor turns, the blades do not"),
    )
    inputs = (Input("supply", "driven", "bool"),)
    variables = (
        Variable("energised", "bool", False),
        Variable("speed", "real", 0.0, "%", 0.0, 100.0),
        Variable("mixed", "real", 0.0, "%", 0.0, 100.0),
    )
    outputs = (Output("energised", "bool"), Output("turning", "bool"), Output("mixed", "real", "%", 0.0, 100.0))
    contacts = (Contact("turns", "make"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._lag = Lag(not_negative(given, "runs_up", 0.0), not_negative(given, "runs_down", 0.0), self.dt_s)
        mixes = positive(given, "mixes_in")
        self._mixing = Lag(mixes, positive(given, "settles_in", 3600.0), self.dt_s)

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return state["speed"] > TURNING

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        target = ops.select(inputs["supply"], 100.0, 0.0)
        speed = self._lag.followed(ops, state["speed"], target)
        speed = ops.select(faults["stalled"], 0.0, speed)
        stirs = ops.select(faults["shaft_broken"], 0.0, speed)
        return {
            "energised": inputs["supply"],
            "speed": speed,
            "mixed": self._mixing.followed(ops, state["mixed"], stirs),
        }

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"turning": state["speed"] > TURNING}
