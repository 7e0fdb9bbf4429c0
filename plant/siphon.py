"""A siphon: a bent pipe over the rim, which runs once it is full of water."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import flag, needed_part, not_negative, positive, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.outlet import GRAVITY, HEAD_LIMIT
from rungproof.plant.part import Clause, Fault, Given, Input, Output, PartError, Variable

#: Water column that air at 101 325 Pa carries at 20 degC, vapour pressure 2339.3 Pa and density
#: 998.2072 kg/m3 taken off (cm): no crest can stand higher above the level. IAPWS-95 values.
CREST_LIMIT = (101_325 - 2339.3) / (998.2072 * 9.80665) * 100


class Siphon(Carrier):
    """Discharge through a full bent pipe, from a tank to a point below.

        siphon relief  from basin, bore 25 mm, losses 1.5, inlet at 5 cm, crest at 60 cm, discharges 80 cm below

        v = sqrt(2 g (level + below) / (1 + losses)),   Q = v pi bore^2/4     while it runs

    Levels from the tank's lowest point; `below` from there down to the discharge. It starts
    to run when the level reaches the crest or when someone primes it (input `prime`) with its
    inlet under water. It stops when the level falls to the inlet, for air breaks it, or when
    the crest stands more than 10.11 m above the level, for the column breaks; losses and
    velocity head on the way to the crest are not taken off that limit. Shows `running` and
    `flow` (L/min). Source: Bernoulli with losses, hydraulics handbooks.
    """

    kind = "siphon"
    clauses = (
        *WAY_CLAUSES,
        Clause("bore {bore:mm}", required=True),
        Clause("losses {losses:1}"),
        Clause("inlet at {inlet:cm}"),
        Clause("crest at {crest:cm}", required=True),
        Clause("discharges {below:cm} below", required=True),
        Clause("starts running", flag="running"),
    )
    faults = (
        Fault("blocked", "nothing gets through the siphon"),
        Fault("draws_air", "air leaks in at the crest and breaks the siphon"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        source = needed_part(given, "source")
        self._inlet = not_negative(given, "inlet", 0.0)
        self._crest = positive(given, "crest")
        if self._crest <= self._inlet:
            raise PartError("crest", "has its crest no higher than its inlet")
        self._below = within(given, "below", -HEAD_LIMIT, HEAD_LIMIT)
        area = math.pi / 4 * (positive(given, "bore") / 10) ** 2
        self._fall_factor = 2 * GRAVITY / (1 + not_negative(given, "losses", 1.5))
        self._per_tick = area / 1000 * self.dt_s
        most = (self._fall_factor * 2 * HEAD_LIMIT) ** 0.5
        self.carries(self._per_tick * most / self.dt_s * 60)
        self.inputs += (
            Input("level", "part", "real", "cm", 0.0, HEAD_LIMIT, of=f"{source}.level"),
            Input("prime", "operator", "bool"),
        )
        self.variables += (Variable("running", "bool", flag(given, "running")),)
        self.outputs += (Output("running", "bool"),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        level = ops.max(0.0, ops.min(inputs["level"], HEAD_LIMIT))
        full = ops.either(ops.either(state["running"], inputs["prime"]), level >= self._crest)
        holds = ops.both(level > self._inlet, self._crest - level <= CREST_LIMIT)
        running = ops.both(ops.both(full, holds), ops.inverse(faults["draws_air"]))
        flows = ops.both(running, ops.inverse(faults["blocked"]))
        speed = ops.sqrt(self._fall_factor * ops.max(0.0, level + self._below))
        after = self.carry(ops, state, inputs, ops.select(flows, speed * self._per_tick, 0.0))
        after["running"] = running
        return after
