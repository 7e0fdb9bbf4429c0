"""A supply that circuits and modules are fed from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Output, Part


class Supply(Part):
    """A control supply, there or not.

        supply P24  24 V

    Shows `live`, at once: `live` is false at every instant at which the fault `lost` is on. A dip
    is a short loss. While it is `sagging`, everything fed from it works on, but a relay's coil has
    not the voltage to pull in; what it holds, it holds. The wiring and the circuits see to that.
    Source: operate and release voltage of relays, IEC 61810-1 (from memory).
    """

    kind = "supply"
    clauses = (Clause("{voltage:V}", required=True),)
    faults = (
        Fault("lost", "the supply is lost"),
        Fault("sagging", "the voltage sags: coils hold what they have pulled in and pull in nothing more"),
    )
    outputs = (Output("live", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.voltage = positive(given, "voltage")

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"live": ops.inverse(faults["lost"])}
