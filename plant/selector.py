"""A selector switch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rungproof.plant.given import number
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, PartError, Variable

MOST_POSITIONS = 12


class Selector(Part):
    """A switch that stays where it is turned; contact n is closed in position n and only there.

        selector S4  positions 3

    Input `turned_to` (1..n); shows `position`, one tick later. Starts in position 1.
    Source: common practice, no source.
    """

    kind = "selector"
    clauses = (Clause("positions {positions:int}", required=True),)
    faults: ClassVar[tuple[Fault, ...]] = (
        Fault("stuck", "the switch cannot be turned"),
        Fault("between", "the switch stands between two positions: no contact is closed"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        count = int(number(given, "positions"))
        if not 2 <= count <= MOST_POSITIONS:
            raise PartError("positions", f"a selector has 2 to {MOST_POSITIONS} positions, not {count}")
        self.variables = (Variable("position", "int", 1, None, 1, count), Variable("seated", "bool", True))
        self.inputs = (Input("turned_to", "operator", "int", None, 1, count, 1),)
        self.outputs = (Output("position", "int", None, 1, count),)
        self.contacts = tuple(Contact(str(position), "make") for position in range(1, count + 1))

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return ops.both(ops.same(state["position"], int(contact.name)), state["seated"])

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return {
            "position": ops.select(faults["stuck"], state["position"], inputs["turned_to"]),
            "seated": ops.inverse(faults["between"]),
        }
