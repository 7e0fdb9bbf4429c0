"""A press: a ram that a valve sends down and lets come back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable
from rungproof.plant.travel import Travel


class Press(Part):
    """A ram that advances while its valve is energised and returns while it is not.

        press PR1  stroke 300 mm, advances in 2 s, returns in 1.5 s

        position' = position +- stroke dt / time, held within 0..stroke

    Input `valve`; shows `energised`, `position` (mm from the top), `moving` and `advancing` (in
    the tick just ended). Make contacts `top` and `bottom` are closed at the ends of the stroke.
    A model for the logic around it: the safety of a press belongs in rated equipment.
    Source: constant speed, common practice, no source.
    """

    kind = "press"
    clauses = (
        Clause("stroke {stroke:mm}", required=True),
        Clause("advances in {advances_in:s}"),
        Clause("returns in {returns_in:s}"),
    )
    faults = (
        Fault("valve_stuck", "the valve stays as it is, energised or not"),
        Fault("sinks", "the ram sinks though nothing asks for it"),
        Fault("seized", "the ram does not move"),
    )
    inputs = (Input("valve", "driven", "bool"),)
    contacts = (Contact("top", "make"), Contact("bottom", "make"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._stroke = positive(given, "stroke")
        down_s, up_s = (not_negative(given, slot, 0.0) for slot in ("advances_in", "returns_in"))
        self._travel = Travel(self._stroke, down_s, up_s, self.dt_s)
        self.variables = (
            Variable("energised", "bool", False),
            Variable("shifted", "bool", False),
            Variable("position", "real", 0.0, "mm", 0.0, self._stroke),
            Variable("moving", "bool", False),
            Variable("advancing", "bool", False),
        )
        self.outputs = (
            Output("energised", "bool"),
            Output("position", "real", "mm", 0.0, self._stroke),
            Output("moving", "bool"),
            Output("advancing", "bool"),
        )

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return state["position"] <= 0.0 if contact.name == "top" else state["position"] >= self._stroke

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        before = state["position"]
        shifted = ops.select(faults["valve_stuck"], state["shifted"], inputs["valve"])
        down = ops.either(shifted, faults["sinks"])
        position = self._travel.moved(ops, before, down)
        position = ops.select(faults["seized"], before, position)
        return {
            "energised": inputs["valve"],
            "shifted": shifted,
            "position": position,
            "moving": ops.either(position < before, before < position),
            "advancing": before < position,
        }
