"""A two-hand station."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import whole_ticks
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable


class TwoHandStation(Part):
    """Two palm buttons, and a contact that closes only for both hands at once.

        two_hand_station S5  together within 500 ms

        together' = both pressed, and (together, or the second came in time and both had been released)

    Inputs `left`, `right`: a hand on its button. Make contacts `left_button`, `right_button`
    and `both`. `both` opens with either hand and closes again only after both have been away;
    the time runs from the tick that sees the first hand, ends included. Shows `together`.
    A model for the logic around it: two-hand control belongs in rated equipment.
    Source: type III, ISO 13851 clause 5 (from memory); 0.5 s: the same.
    """

    kind = "two_hand_station"
    clauses = (Clause("together within {within:ms}"),)
    faults = (
        Fault("left_taped", "someone has taped the left button down"),
        Fault("right_taped", "someone has taped the right button down"),
    )
    inputs = (Input("left", "operator", "bool"), Input("right", "operator", "bool"))
    outputs = (Output("together", "bool"),)
    contacts = (Contact("left_button", "make"), Contact("right_button", "make"), Contact("both", "make"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._within = whole_ticks(given, "within", dt_ms, 500)
        most = self._within + dt_ms
        self.variables = (
            Variable("left_in", "bool", False),
            Variable("right_in", "bool", False),
            Variable("fresh", "bool", True),
            Variable("waited_ms", "int", 0, None, 0, most),
            Variable("together", "bool", False),
        )

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return state[{"left_button": "left_in", "right_button": "right_in", "both": "together"}[contact.name]]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        left = ops.either(inputs["left"], faults["left_taped"])
        right = ops.either(inputs["right"], faults["right_taped"])
        both, one = ops.both(left, right), ops.either(left, right)
        alone = ops.both(one, ops.inverse(both))
        waited = ops.select(alone, ops.min(state["waited_ms"] + self.dt_ms, self._within + self.dt_ms), 0)
        in_time = state["waited_ms"] <= self._within
        starts = ops.both(state["fresh"], in_time)
        together = ops.both(both, ops.either(state["together"], starts))
        # both hands on, or too late: another start wants both hands away first
        spent = ops.either(both, waited > self._within)
        fresh = ops.either(ops.inverse(one), ops.both(state["fresh"], ops.inverse(spent)))
        return {"left_in": left, "right_in": right, "fresh": fresh, "waited_ms": waited, "together": together}
