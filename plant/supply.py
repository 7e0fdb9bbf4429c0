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

    Shows `live`, at once: `live` is false at every instant at which the fault `lost` is on.
    Source: common practice, no source.
    """

    kind = "supply"
    clauses = (Clause("{voltage:V}", required=True),)
    faults = (Fault("lost", "the supply is lost"),)
    outputs = (Output("live", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.voltage = positive(given, "voltage")

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"live": ops.inverse(faults["lost"])}
