"""What reservoirs and tanks have in common: contents, a brim, and an additive mixed through."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Given, Output, PartError, Variable, Vessel

#: A running total stops counting here (L, g): its range must have an end.
TOTAL_LIMIT = 1e9

#: No solution is richer than this (g/L).
RICHNESS_LIMIT = 1000.0

ADDITIVE_CLAUSE = Clause("additive {additive:g/L}")


class Store(Vessel):
    """A vessel that is well mixed and runs over at its brim.

        filled = volume - drawn + gained            volume' = min(filled, capacity)
        spilled' = spilled + (filled - volume')     additive leaves with what spills, evenly mixed

    Litres and grams. A subclass calls `hold` once it knows its capacity. The clause
    `additive 0 g/L` makes the vessel carry an additive, mixed through at once; its outputs are
    then `concentration` (g/L) beside `volume` (L). Source: balance of volume and of mass.
    """

    capacity: float

    def hold(self, capacity: float, start: float) -> None:
        """Declare what is kept: contents of `capacity` L at most, `start` L at first."""
        if start > capacity:
            raise PartError("start", f"cannot start with {start:g} L: it holds {capacity:g} L")
        self.capacity = capacity
        self.mixes = "additive" in self.given
        variables = [
            Variable("volume", "real", start, "L", 0.0, capacity),
            Variable("spilled", "real", 0.0, "L", 0.0, TOTAL_LIMIT),
        ]
        outputs = [Output("volume", "real", "L", 0.0, capacity), Output("spilled", "real", "L", 0.0, TOTAL_LIMIT)]
        if self.mixes:
            concentration = within(self.given, "additive", 0.0, RICHNESS_LIMIT)
            most = capacity * RICHNESS_LIMIT
            variables += [
                Variable("additive", "real", concentration * start, "g", 0.0, most),
                Variable("spilled_additive", "real", 0.0, "g", 0.0, TOTAL_LIMIT),
            ]
            outputs += [
                Output("additive", "real", "g", 0.0, most),
                Output("spilled_additive", "real", "g", 0.0, TOTAL_LIMIT),
                Output("concentration", "real", "g/L", 0.0, RICHNESS_LIMIT),
            ]
        self.variables = tuple(variables)
        self.outputs = tuple(outputs)

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"concentration": concentration(ops, state)} if self.mixes else {}

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return self.hold_on(ops, state, inputs, 0.0)

    def hold_on(self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], lost: Value) -> dict[str, Any]:
        """The state after a tick in which `lost` litres ran away besides; they count as spilled."""
        filled = ops.max(state["volume"] - inputs["drawn"] + inputs["gained"], 0.0)
        leaked = ops.min(filled, lost)
        left = filled - leaked
        over = ops.max(left - self.capacity, 0.0)
        gone = over + leaked
        after: dict[str, Any] = {
            "volume": ops.min(left, self.capacity),
            "spilled": ops.min(state["spilled"] + gone, TOTAL_LIMIT),
        }
        if self.mixes:
            mass = ops.max(state["additive"] - inputs["drawn_additive"] + inputs["gained_additive"], 0.0)
            lost_mass = mass * ops.divide(gone, filled)
            after["additive"] = ops.min(mass - lost_mass, self.capacity * RICHNESS_LIMIT)
            after["spilled_additive"] = ops.min(state["spilled_additive"] + lost_mass, TOTAL_LIMIT)
        return after


def concentration(ops: Ops, state: Mapping[str, Value]) -> Any:
    """Grams of additive per litre; 0 in an empty vessel."""
    return ops.select(
        state["volume"] > 0.0, ops.min(ops.divide(state["additive"], state["volume"]), RICHNESS_LIMIT), 0.0
    )


def start_volume(given: Mapping[str, Given], default: float) -> float:
    """What `starts at 60 L` says."""
    return not_negative(given, "start", default)
