"""A flashing beacon."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable


class Beacon(Part):
    """Flashes while it is supplied: lit for half of each period, dark for the other half.

        beacon H5  flashes every 500 ms

    Input `supply`; shows `energised` and `lit`, one tick later. A half period is a whole number
    of ticks, the nearest. Source: flashing at 1.4 to 2.8 Hz, IEC 60073 (second-hand).
    """

    kind = "beacon"
    clauses = (Clause("flashes every {period:ms}"),)
    faults = (
        Fault("burnt_out", "the beacon stays dark"),
        Fault("steady", "the beacon no longer flashes: it is lit all the time"),
    )
    inputs = (Input("supply", "driven", "bool"),)
    outputs = (Output("energised", "bool"), Output("lit", "bool"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        half = round(positive(given, "period", 500.0) / 2 / dt_ms) * dt_ms
        if half < dt_ms:
            raise PartError("period", "flashes faster than the plant ticks", "write a longer period")
        self._half = half
        self.variables = (
            Variable("energised", "bool", False),
            Variable("lit", "bool", False),
            Variable("phase_ms", "int", 0, None, 0, 2 * half - dt_ms),
        )

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        supply = inputs["supply"]
        shown = ops.either(state["phase_ms"] < self._half, faults["steady"])
        lit = ops.both(ops.both(supply, shown), ops.inverse(faults["burnt_out"]))
        later = state["phase_ms"] + self.dt_ms
        phase = ops.select(later < 2 * self._half, later, 0)
        return {"energised": supply, "lit": lit, "phase_ms": ops.select(supply, phase, 0)}
