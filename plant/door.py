"""A powered door."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import flag, not_negative
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable
from rungproof.plant.travel import Travel


class Door(Part):
    """A door that one coil opens and another closes; without either it stands still.

        door D1  opens in 4 s, closes in 5 s, starts closed

        position' = position +- 100 % dt / time, held within 0..100 % (open)

    Inputs `opens`, `closes` (driven; with both it stands still) and `obstructed`, a disturbance:
    something is in the way, and a closing door stops against it. Shows `energised`, `position`
    (%), `moving`, `closing`. Make contacts `open` and `closed` are its end switches, `edge`
    closes while it presses on what is in the way. It starts open unless the line says `starts
    closed`. Source: constant speed; pressure-sensitive edge, ISO 13856-2 (from memory).
    """

    kind = "door"
    clauses = (
        Clause("opens in {opens_in:s}"),
        Clause("closes in {closes_in:s}"),
        Clause("starts closed", flag="starts_closed"),
    )
    faults = (
        Fault("seized", "the door does not move"),
        Fault("falls_shut", "the brake is broken: the door sinks shut by itself"),
        Fault("edge_dead", "the edge no longer feels anything"),
    )
    inputs = (
        Input("opens", "driven", "bool"),
        Input("closes", "driven", "bool"),
        Input("obstructed", "disturbance", "bool", start=False),
    )
    outputs = (
        Output("energised", "bool"),
        Output("position", "real", "%", 0.0, 100.0),
        Output("moving", "bool"),
        Output("closing", "bool"),
    )
    contacts = (Contact("open", "make"), Contact("closed", "make"), Contact("edge", "make"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        opens, closes = (not_negative(given, slot, 0.0) for slot in ("opens_in", "closes_in"))
        self._travel = Travel(100.0, opens, closes, self.dt_s)
        start = 0.0 if flag(given, "starts_closed") else 100.0
        self.variables = (
            Variable("energised", "bool", False),
            Variable("position", "real", start, "%", 0.0, 100.0),
            Variable("moving", "bool", False),
            Variable("closing", "bool", False),
            Variable("pressing", "bool", False),
        )

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        if contact.name == "edge":
            return state["pressing"]
        return state["position"] >= 100.0 if contact.name == "open" else state["position"] <= 0.0

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        before = state["position"]
        both = ops.both(inputs["opens"], inputs["closes"])
        opens = ops.both(inputs["opens"], ops.inverse(both))
        closes = ops.both(inputs["closes"], ops.inverse(both))
        closes = ops.either(closes, ops.both(faults["falls_shut"], ops.inverse(opens)))
        presses = ops.both(ops.both(closes, inputs["obstructed"]), before > 0.0)
        goes = ops.both(ops.either(opens, closes), ops.inverse(ops.either(presses, faults["seized"])))
        position = ops.select(goes, self._travel.moved(ops, before, opens), before)
        return {
            "energised": ops.either(inputs["opens"], inputs["closes"]),
            "position": position,
            "moving": ops.either(position < before, before < position),
            "closing": position < before,
            "pressing": ops.both(presses, ops.inverse(faults["edge_dead"])),
        }
