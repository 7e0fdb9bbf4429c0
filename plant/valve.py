"""A valve that a coil opens and a spring closes, or the other way round."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import flag, not_negative, positive
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, GoesOff, Input, Output, Variable
from rungproof.plant.travel import Travel

#: What still runs through a closed valve whose seat leaks. A declared size, no source.
LEAK = 0.05

#: How many times longer a slow valve takes. A declared size, no source.
SLOW = 5


class Valve(Carrier):
    """A valve under constant pressure: its flow is in proportion to how far it is open.

        valve V1  into header, flow 20 L/min, opens in 1 s, closes in 2 s
        valve V2  from header, flow 60 L/min, normally open

        position' = position +- 100 % dt / travel time, held within 0..100 %
        moved     = min(position flow dt, what the source holds)

    Input `coil`: opens it, or closes it where it is `normally open`. Shows `energised`,
    `position` (%) and `flow` (L/min). Make contacts `open` and `closed` are its end switches.
    Source: linear characteristic, IEC 60534-2-1 (from memory); travel: common practice, no source.
    """

    kind = "valve"
    clauses = (
        *WAY_CLAUSES,
        Clause("flow {flow:L/min}", required=True),
        Clause("opens in {opens_in:s}"),
        Clause("closes in {closes_in:s}"),
        Clause("normally open", flag="normally_open"),
    )
    faults = (
        Fault("stuck", "the valve stays where it is"),
        Fault("coil_open", "the coil is broken: the spring has its way"),
        Fault("slow", "the valve takes five times as long"),
        Fault("leaking", "the valve lets 5 % through when it is closed"),
    )
    contacts = (Contact("open", "make"), Contact("closed", "make"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        most = positive(given, "flow")
        self._normally_open = flag(given, "normally_open")
        opens_s, closes_s = (not_negative(given, slot, 0.0) for slot in ("opens_in", "closes_in"))
        self._travel = Travel(100.0, opens_s, closes_s, self.dt_s)
        self._slow = Travel(100.0, SLOW * max(opens_s, self.dt_s), SLOW * max(closes_s, self.dt_s), self.dt_s)
        self._per_tick = most / 60 * self.dt_s / 100
        self.carries(most)
        self.inputs += (Input("coil", "driven", "bool"),)
        rest = 100.0 if self._normally_open else 0.0
        self.variables += (
            Variable("energised", "bool", False),
            Variable("position", "real", rest, "%", 0.0, 100.0),
        )
        self.outputs += (Output("energised", "bool"), Output("position", "real", "%", 0.0, 100.0))

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return state["position"] >= 100.0 if contact.name == "open" else state["position"] <= 0.0

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        pulled = ops.both(inputs["coil"], ops.inverse(faults["coil_open"]))
        opening = ops.inverse(pulled) if self._normally_open else pulled
        position = self._travel.moved(ops, state["position"], opening)
        position = ops.select(faults["slow"], self._slow.moved(ops, state["position"], opening), position)
        position = ops.select(faults["stuck"], state["position"], position)
        share = ops.select(faults["leaking"], ops.max(position, 100.0 * LEAK), position)
        after = self.carry(ops, state, inputs, share * self._per_tick)
        after["energised"] = inputs["coil"]
        after["position"] = position
        return after

    def runs_down(self, litres: float, *, healthy: bool) -> tuple[str, int] | None:
        """Without current it closes, unless it is stuck, slow or leaking."""
        if self._normally_open or not healthy:
            return None
        ticks = self._travel.ticks_back()
        return None if ticks is None else ("energised", ticks)

    def goes_off(self, *, healthy: bool) -> tuple[GoesOff, ...]:
        """Without current it leaves its open end in that tick, unless it is stuck or its end switch is."""
        if self._normally_open or not healthy or self._travel.ticks_back() is None:
            return ()
        return (GoesOff("open", "energised", 1, "position"),)
