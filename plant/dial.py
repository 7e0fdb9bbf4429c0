"""A set-point dial."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import interval, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable


class Dial(Part):
    """A potentiometer that a person sets.

        dial R1  gives 0..10 V, starts at 40 %
        dial R2  gives 4..20 mA

        signal' = from + (to - from) set_to / 100

    Input `set_to` (%), a person's; at the lower end unless `starts at` says otherwise. Shows
    `signal` (V or mA), one tick later. Source: linear potentiometer, textbook.
    """

    kind = "dial"
    clauses = (Clause("gives {voltage:V..}"), Clause("gives {current:mA..}"), Clause("starts at {start:%}"))
    faults = (
        Fault("wiper_open", "the wiper lifts: no signal comes"),
        Fault("loose", "the knob turns on its shaft: the signal stays where it is"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        slot = "current" if "current" in given else "voltage"
        if slot not in given:
            raise PartError(slot, "says nothing of its signal", "write `gives 0..10 V`")
        self.unit = "mA" if slot == "current" else "V"
        self._from, to = interval(given, slot)
        self._slope = (to - self._from) / 100
        start = within(given, "start", 0.0, 100.0, 0.0)
        low, high = min(0.0, self._from), max(0.0, to)
        self.inputs = (Input("set_to", "operator", "real", "%", 0.0, 100.0, start),)
        self.variables = (
            Variable("signal", "real", self._from + start * self._slope, self.unit, low, high),
            Variable("kept", "real", start, "%", 0.0, 100.0),
        )
        self.outputs = (Output("signal", "real", self.unit, low, high),)
        self._low, self._high = low, high

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        kept = ops.select(faults["loose"], state["kept"], inputs["set_to"])
        signal = ops.max(self._low, ops.min(self._from + kept * self._slope, self._high))
        return {"signal": ops.select(faults["wiper_open"], 0.0, signal), "kept": kept}
