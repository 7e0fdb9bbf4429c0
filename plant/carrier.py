"""What every mover does with the litres it wants to carry, and what its line says of the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import part_name
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Given, Input, Mover, Output, PartError, Variable
from rungproof.plant.store import TOTAL_LIMIT

#: A mover without a source draws on the world, which always has this much (L).
WORLD = 1e9

WAY_CLAUSES = (
    Clause("from {source:part} into {destination:part}"),
    Clause("from {source:part}"),
    Clause("into {destination:part}"),
)


class Carrier(Mover):
    """A mover that carries what it wants to, as far as its source holds it.

        moved = min(wanted, available)            flow = moved / dt   (L/min)

    `from A into B`, or `from A` alone (it leaves the plant), or `into B` alone (it comes from
    the world, which never runs out). What crosses the plant's border is counted in `passed`
    (L) and, where it leaves, `passed_additive` (g), so that nothing is ever unaccounted for.
    A subclass calls `carries` in its constructor and `carry` at the end of its step.
    """

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.source = part_name(given, "source")
        self.destination = part_name(given, "destination")
        if self.source is None and self.destination is None:
            raise PartError("source", "carries nothing from anywhere", "write `from A into B`, `from A` or `into B`")
        if self.source == self.destination:
            raise PartError("destination", f"carries from {self.source} into {self.source} itself")

    def carries(self, most: float) -> None:
        """Declare what carrying keeps and shows; `most` is the greatest flow, in L/min."""
        self._per_minute = 60 / self.dt_s
        self.variables = (Variable("moved", "real", 0.0, "L", 0.0, most / self._per_minute),)
        self.inputs = (Input("available", "available", "real", "L", 0.0, WORLD),)
        self.outputs = (Output("flow", "real", "L/min", 0.0, most),)
        self._most = most
        if self.source is None or self.destination is None:
            self.variables += (Variable("passed", "real", 0.0, "L", 0.0, TOTAL_LIMIT),)
            self.outputs += (Output("passed", "real", "L", 0.0, TOTAL_LIMIT),)
        if self.destination is None:
            self.variables += (Variable("passed_additive", "real", 0.0, "g", 0.0, TOTAL_LIMIT),)
            self.outputs += (Output("passed_additive", "real", "g", 0.0, TOTAL_LIMIT),)
            self.inputs += (Input("richness", "richness", "real", "g/L", 0.0, 1000.0),)

    def carry(self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], wanted: Value) -> dict[str, Any]:
        """The carrying variables after a tick in which the mover wants to carry `wanted` litres."""
        moved = ops.min(wanted, inputs["available"])
        after: dict[str, Any] = {"moved": moved}
        if self.source is None or self.destination is None:
            after["passed"] = ops.min(state["passed"] + moved, TOTAL_LIMIT)
        if self.destination is None:
            after["passed_additive"] = ops.min(state["passed_additive"] + moved * inputs["richness"], TOTAL_LIMIT)
        return after

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"flow": ops.min(state["moved"] * self._per_minute, self._most)}
