"""A water heater with a thermostat and a temperature limiter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import not_negative, positive, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, PartError, Variable

#: Specific heat of water, J/(kg K), and a kilogram a litre. Rounded handbook value (from memory).
HEAT_PER_LITRE = 4186.0

#: The air around (degC).
AROUND = 20.0


class WaterHeater(Part):
    """Heats the water it holds, and loses heat to the air.

        water_heater E1  power 3 kW, holding 100 L, loses 12 W, thermostat opens at 60 degC, closes at 55 degC,
                         limiter opens at 75 degC

        T' = T + (P on - loss (T - 20)) dt / (4186 holding)                      explicit Euler

    `loses` is in watts per kelvin above 20 degC. Input `supply`; shows `energised`,
    `temperature` (degC, held within 0..120), `limited`. Break contact `thermostat` opens and
    closes by itself. Break contact `limiter`, where it has one, opens for good and closes by
    a press of `reset` once it has cooled below the thermostat's closing point. Neither switches
    the element: the circuit must. A heated vessel needs its own rated limiter.
    Source: heat balance; limiter with manual reset, IEC 60730-2-9 (from memory).
    """

    kind = "water_heater"
    clauses = (
        Clause("power {power:W}", required=True),
        Clause("holding {litres:L}", required=True),
        Clause("loses {loss:W}"),
        Clause("thermostat opens at {opens:degC}", required=True),
        Clause("closes at {closes:degC}", required=True),
        Clause("limiter opens at {limit:degC}"),
    )
    faults = (
        Fault("burnt_out", "the element is broken"),
        Fault("scaled", "scale halves what the element gives"),
        Fault("feels_cold", "the thermostat's sensor has slipped out of its pocket"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._opens = within(given, "opens", 1.0, 119.0)
        self._closes = within(given, "closes", 0.0, 119.0)
        if self._closes > self._opens:
            raise PartError("closes", "closes at a higher temperature than it opens at")
        per_kelvin = HEAT_PER_LITRE * positive(given, "litres")
        self._rise = positive(given, "power") * self.dt_s / per_kelvin
        self._fall = not_negative(given, "loss", 0.0) * self.dt_s / per_kelvin
        if self._fall > 1:
            raise PartError("loss", "loses all its heat within one tick", "write a smaller loss or a shorter tick")
        self.inputs = (Input("supply", "driven", "bool"),)
        self.variables = (
            Variable("energised", "bool", False),
            Variable("temperature", "real", AROUND, "degC", 0.0, 120.0),
            Variable("hot", "bool", False),
        )
        self.outputs = (Output("energised", "bool"), Output("temperature", "real", "degC", 0.0, 120.0))
        self.contacts = (Contact("thermostat", "break"),)
        self.limits = "limit" in given
        if self.limits:
            self._limit = within(given, "limit", 1.0, 119.0)
            if self._limit <= self._opens:
                raise PartError("limit", "the limiter opens before the thermostat does")
            self.inputs += (Input("reset", "operator", "bool"),)
            self.variables += (Variable("limited", "bool", False),)
            self.outputs += (Output("limited", "bool"),)
            self.contacts += (Contact("limiter", "break"),)

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return ops.inverse(state["hot" if contact.name == "thermostat" else "limited"])

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        gained = ops.select(faults["scaled"], 0.5 * self._rise, self._rise)
        heats = ops.both(inputs["supply"], ops.inverse(faults["burnt_out"]))
        warm = state["temperature"] + ops.select(heats, gained, 0.0) - (state["temperature"] - AROUND) * self._fall
        warm = ops.max(0.0, ops.min(warm, 120.0))
        felt = ops.select(faults["feels_cold"], AROUND, warm)
        hot = ops.either(felt >= self._opens, ops.both(state["hot"], felt > self._closes))
        after = {"energised": inputs["supply"], "temperature": warm, "hot": hot}
        if self.limits:
            kept = ops.both(state["limited"], ops.inverse(ops.both(inputs["reset"], warm <= self._closes)))
            after["limited"] = ops.either(warm >= self._limit, kept)
        return after
