"""A pump whose flow follows its speed signal."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import flag, interval, not_negative, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, GoesOff, Input, Output, Variable

#: The full speed signal (V).
FULL_SIGNAL = 10.0

#: Above this share of full speed the shaft counts as turning.
TURNING = 0.01

#: What is left of the flow of a worn pump. A declared size, no source.
WORN = 0.5

#: What a pump still moves that draws air with its liquid. A declared size, no source.
DRY = 0.1

#: So many ticks for a shaft that hardly slows down at all.
NEVER = 2**40

#: Below this share of full speed nothing is promised: there doubles get coarse, and a shaft may stop slowing down.
SLOWEST = 1e-290


class Pump(Carrier):
    """A pump with a 0..10 V speed signal, or of fixed speed, that moves 0..Q L/min.

        pump feed_pump  from cistern into header, 0..12 L/min, deadband 0.8 V, lag 0.4 s
        pump drain      from sump, 0..90 L/min, fixed speed, lag 1 s, loses prime when dry

    With signal u (V), deadband d, flows low..high:

        target = low/high + (1 - low/high)(u - d)/(10 - d) if supplied and u > d, else 0   (0..1)
        speed' = speed + (target - speed) dt/(lag + dt)          backward Euler
        moved  = min(high speed' dt, what the source holds)

    Flow in proportion to speed is the first affinity law. `energised`: the motor has supply.
    `turning`: speed above 1 %. `flow` (L/min): what really moves. `starved`: it turns, and the
    source held less than it wanted; a pump that `loses prime when dry` then moves nothing
    until someone primes it (input `prime`). All of them show the tick that has just ended.
    Source: affinity laws, any pump handbook; deadband, prime and dry running: common practice.
    """

    kind = "pump"
    clauses = (
        *WAY_CLAUSES,
        Clause("{capacity:L/min..}", required=True),
        Clause("deadband {deadband:V}"),
        Clause("fixed speed", flag="fixed_speed"),
        Clause("lag {lag:s}"),
        Clause("loses prime when dry", flag="loses_prime"),
    )
    faults = (
        Fault("stalled", "the pump does not turn"),
        Fault("not_primed", "the pump turns on air and moves nothing"),
        Fault("worn", "the pump moves half of what it should"),
        Fault("runs_full", "the drive goes to full speed, whatever the signal says"),
        Fault("runs_on", "the drive keeps its speed when its signal goes down"),
        Fault("not_ready", "the drive is not ready and does not start"),
        Fault("runs_dry", "air gets into the suction: it turns and moves a tenth of what it should"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        low, high = interval(given, "capacity", low=0.0)
        self.carries(high)
        self.fixed = flag(given, "fixed_speed")
        self.primes = flag(given, "loses_prime")
        deadband = within(given, "deadband", 0.0, 9.9, 0.0)
        self._deadband, self._least = deadband, low / high
        self._slope = (1 - self._least) / (FULL_SIGNAL - deadband)
        self._share = self.dt_s / (not_negative(given, "lag", 0.0) + self.dt_s)
        self._per_tick = high / 60 * self.dt_s
        self.inputs += (Input("supply", "driven", "bool"),)
        if not self.fixed:
            self.inputs += (Input("speed", "driven", "real", "V", 0.0, FULL_SIGNAL, 0.0),)
        self.variables += (
            Variable("energised", "bool", False),
            Variable("shaft", "real", 0.0, None, 0.0, 1.0),
            Variable("starved", "bool", False),
        )
        self.outputs += (Output("energised", "bool"), Output("turning", "bool"), Output("starved", "bool"))
        if self.primes:
            self.inputs += (Input("prime", "operator", "bool"),)
            self.variables += (Variable("primed", "bool", True),)
            self.outputs += (Output("primed", "bool"),)

    def _target(self, ops: Ops, inputs: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        if self.fixed:
            return 1.0
        signal = ops.min(ops.max(inputs["speed"], 0.0), FULL_SIGNAL)
        asked = ops.select(signal > self._deadband, self._least + (signal - self._deadband) * self._slope, 0.0)
        return ops.select(faults["runs_full"], 1.0, ops.min(asked, 1.0))

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        asked = self._target(ops, inputs, faults)
        asked = ops.select(faults["runs_on"], ops.max(asked, state["shaft"]), asked)
        ready = ops.both(inputs["supply"], ops.inverse(faults["not_ready"]))
        target = ops.select(ready, asked, 0.0)
        shaft = state["shaft"] + (target - state["shaft"]) * self._share
        shaft = ops.select(faults["stalled"], 0.0, ops.max(0.0, ops.min(shaft, 1.0)))
        wanted = shaft * self._per_tick * ops.select(faults["worn"], WORN, 1.0)
        wanted = wanted * ops.select(faults["runs_dry"], DRY, 1.0)
        starved = ops.both(shaft > TURNING, inputs["available"] < wanted)
        idle = faults["not_primed"]
        if self.primes:
            idle = ops.either(idle, ops.inverse(state["primed"]))
        after = self.carry(ops, state, inputs, ops.select(idle, 0.0, wanted))
        after["energised"] = inputs["supply"]
        after["shaft"] = shaft
        after["starved"] = starved
        if self.primes:
            kept = ops.both(state["primed"], ops.inverse(starved))
            after["primed"] = ops.either(kept, ops.both(inputs["prime"], inputs["available"] > 0.0))
        return after

    def runs_down(self, litres: float, *, healthy: bool) -> tuple[str, int] | None:
        """Without supply, whatever its faults, it slows down by its lag."""
        return "energised", self._slower_than(litres / self._per_tick)

    def goes_off(self, *, healthy: bool) -> tuple[GoesOff, ...]:
        """Without supply it no longer counts as turning after a while, whatever its faults."""
        return (GoesOff("turning", "energised", self._slower_than(TURNING), "shaft"),)

    def _slower_than(self, speed: float) -> int:
        """Ticks without supply from full speed to below `speed` (0..1). Every tick leaves 1 - share of the speed;
        what the three roundings of a tick can add is in the second term."""
        kept = (1.0 - self._share) * (1 + 1e-15) + 4e-16
        if kept >= 1.0 or speed < SLOWEST:
            return NEVER
        return 1 + max(0, math.ceil(math.log(speed) / math.log(kept)))

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        shown = super().look(ops, state, faults)
        shown["turning"] = state["shaft"] > TURNING
        return shown
