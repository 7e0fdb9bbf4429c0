"""A dosing pump: small, exact amounts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, PartError, Variable

#: How much more an overdosing pump moves. A declared size, no source.
OVERDOSE = 2.0


class DosingPump(Carrier):
    """Moves a steady flow while it is supplied, or one stroke at each rising edge.

        dosing_pump D1  from canister into header, doses 200 mL/min
        dosing_pump D2  from canister into header, stroke 5 mL

    Continuous: input `supply`, moved = rate dt. By strokes: input `stroke`, one stroke moved in
    the tick that sees it rise; an edge at time 0 counts. What it draws carries the source's
    additive with it. Shows `energised` (its input, one tick on) and `flow` (L/min).
    Source: positive displacement, common practice, no source.
    """

    kind = "dosing_pump"
    clauses = (*WAY_CLAUSES, Clause("doses {rate:L/min}"), Clause("stroke {stroke:L}"))
    faults = (
        Fault("stalled", "the dosing pump does not move"),
        Fault("airlocked", "gas in the head: it strokes and moves nothing"),
        Fault("overdoses", "a valve in the head leaks: it moves twice as much"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.by_strokes = "stroke" in given
        if self.by_strokes == ("rate" in given):
            raise PartError(
                "stroke" if self.by_strokes else "rate",
                "doses either a flow or by strokes",
                "write `doses 200 mL/min` or `stroke 5 mL`",
            )
        if self.by_strokes:
            self._amount = positive(given, "stroke")
        else:
            self._amount = positive(given, "rate") / 60 * self.dt_s
        self.carries(OVERDOSE * self._amount / self.dt_s * 60)
        self._input = "stroke" if self.by_strokes else "supply"
        self.inputs += (Input(self._input, "driven", "bool"),)
        self.variables += (Variable("energised", "bool", False),)
        self.outputs += (Output("energised", "bool"),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        powered = inputs[self._input]
        acts = ops.both(powered, ops.inverse(state["energised"])) if self.by_strokes else powered
        acts = ops.both(acts, ops.inverse(ops.either(faults["stalled"], faults["airlocked"])))
        amount = ops.select(faults["overdoses"], OVERDOSE * self._amount, self._amount)
        after = self.carry(ops, state, inputs, ops.select(acts, amount, 0.0))
        after["energised"] = powered
        return after

    def runs_down(self, litres: float, *, healthy: bool) -> tuple[str, int] | None:
        """In a tick without supply, or without a stroke asked for, it moves nothing, whatever its faults."""
        return "energised", 1
