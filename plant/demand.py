"""A demand: what the world takes out of a vessel, whatever the plant would like."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import interval, row
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, PartError, Variable

HOUR_MS = 3_600_000


class Demand(Carrier):
    """A consumer, at random within a range or by a recorded day.

        demand yard    from header, 0..8 L/min
        demand street  from tower, hourly 20 15 15 40 60 50 L/min

    With a range, input `demand` (L/min) is a disturbance, at the lower end unless something
    sets it. With `hourly`, each value holds for an hour, in order, over and over from time 0.
    What it takes is `flow`; `short`: it wanted more than there was.
    Source: piecewise-constant demand patterns, as in water network analysis.
    """

    kind = "demand"
    clauses = (*WAY_CLAUSES, Clause("{range:L/min..}"), Clause("hourly {hourly:L/min+}"))
    faults = (Fault("burst", "the pipe has burst: it takes the most it ever takes, all the time"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.hourly = row(given, "hourly")
        if self.hourly and "range" in given:
            raise PartError("hourly", "has a range and a recorded row: one of them must go")
        if any(value < 0 for value in self.hourly):
            raise PartError("hourly", "a demand cannot be less than 0")
        low, high = (0.0, max(self.hourly)) if self.hourly else interval(given, "range", low=0.0)
        self._per_tick = self.dt_s / 60
        self._most = high
        self.carries(high)
        self.variables += (Variable("short", "bool", False),)
        self.outputs += (Output("short", "bool"),)
        if self.hourly:
            self._period = HOUR_MS * len(self.hourly)
            self.variables += (Variable("clock_ms", "int", 0, None, 0, self._period - 1),)
        else:
            self.inputs += (Input("demand", "disturbance", "real", "L/min", low, high, low),)

    def _asked(self, ops: Ops, clock: Value) -> Any:
        asked: Any = self.hourly[-1]
        for hour in range(len(self.hourly) - 2, -1, -1):
            asked = ops.select(clock < HOUR_MS * (hour + 1), self.hourly[hour], asked)
        return asked

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        asked = self._asked(ops, state["clock_ms"]) if self.hourly else inputs["demand"]
        wanted = ops.select(faults["burst"], self._most, asked) * self._per_tick
        after = self.carry(ops, state, inputs, wanted)
        after["short"] = inputs["available"] < wanted
        if self.hourly:
            clock = state["clock_ms"] + self.dt_ms
            after["clock_ms"] = ops.select(clock < self._period, clock, clock - self._period)
        return after
