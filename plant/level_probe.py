"""A conductive level probe in a tank."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import CONTACT_CLAUSES, contacts_of
from rungproof.plant.given import needed_part, not_negative
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, Variable


class LevelProbe(Part):
    """An electrode whose relay is operated while the liquid touches it.

        level_probe B1  in sump at 60 cm, make contact

        wet' = level >= height

    No hysteresis: the surface decides. Shows `wet`. Source: common practice, no source.
    """

    kind = "level_probe"
    clauses = (Clause("in {vessel:part} at {height:cm}", required=True), *CONTACT_CLAUSES)
    faults = (
        Fault("fouled", "the electrode is coated and no longer conducts"),
        Fault("bridged", "a wet bridge conducts, whatever the level"),
    )
    variables = (Variable("wet", "bool", False),)
    outputs = (Output("wet", "bool"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._height = self.acts_at = not_negative(given, "height")
        self.contacts = contacts_of(given)
        vessel = needed_part(given, "vessel")
        self.inputs = (Input("level", "part", "real", "cm", 0.0, 1e5, of=f"{vessel}.level"),)

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["wet"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        touched = ops.both(inputs["level"] >= self._height, ops.inverse(faults["fouled"]))
        return {"wet": ops.either(touched, faults["bridged"])}

    def settle(self, state: Mapping[str, Any], inputs: Mapping[str, Any]) -> dict[str, Any]:
        return {"wet": inputs["level"] >= self._height}
