"""An outlet: an orifice low in a tank, with a cock before it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rungproof.plant.carrier import WAY_CLAUSES, Carrier
from rungproof.plant.given import interval, needed_part, not_negative, positive, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, PartError

#: Standard gravity, CGPM 1901 (cm/s2).
GRAVITY = 980.665

#: No head beyond this (cm): the flow's range must have an end.
HEAD_LIMIT = 10_000.0

#: What still runs through a closed cock that leaks. A declared size, no source.
LEAK = 0.05


class Outlet(Carrier):
    """Free discharge through an orifice: Torricelli's law with a discharge coefficient.

        outlet drip_lines  from header into cistern, orifice 8 mm, coefficient 0.61, opening 0..100 %

        Q = opening Cd (pi d^2/4) sqrt(2 g (level - at))

    `opening 0..100 %` makes the opening a disturbance within that range, closed to its lower
    end unless something sets it; `opening 40 %` fixes it; without the clause it is fully open.
    `at 20 cm` puts the orifice above the lowest point. One explicit Euler step a tick: the
    error is in proportion to the tick. Shows `flow` (L/min).
    Source: Torricelli; Cd = 0.61 for a sharp edge, hydraulics handbooks (from memory).
    """

    kind = "outlet"
    clauses = (
        *WAY_CLAUSES,
        Clause("orifice {orifice:mm}", required=True),
        Clause("coefficient {coefficient:1}"),
        Clause("opening {openings:%..}"),
        Clause("opening {opening:%}"),
        Clause("at {height:cm}"),
    )
    faults = (
        Fault("blocked", "nothing gets through the outlet"),
        Fault("leaking", "the cock lets 5 % through when it is closed"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        source = needed_part(given, "source")
        area = math.pi / 4 * (positive(given, "orifice") / 10) ** 2
        coefficient = within(given, "coefficient", 0.01, 1.0, 0.61)
        self._at = not_negative(given, "height", 0.0)
        self._per_tick = coefficient * area * math.sqrt(2 * GRAVITY) / 1000 * self.dt_s
        self.carries(self._per_tick * math.sqrt(HEAD_LIMIT) / self.dt_s * 60)
        self.inputs += (Input("level", "part", "real", "cm", 0.0, HEAD_LIMIT, of=f"{source}.level"),)
        self._fixed = within(given, "opening", 0.0, 100.0, 100.0) / 100
        self.varies = "openings" in given
        if self.varies:
            if "opening" in given:
                raise PartError("opening", "has an opening that varies and one that does not")
            low, high = interval(given, "openings", low=0.0)
            if high > 100:
                raise PartError("openings", f"cannot be open more than 100 %, and says {high:g} %")
            self.inputs += (Input("opening", "disturbance", "real", "%", low, high, low),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        share = inputs["opening"] * 0.01 if self.varies else self._fixed
        share = ops.select(faults["leaking"], ops.max(share, LEAK), share)
        share = ops.select(faults["blocked"], 0.0, share)
        head = ops.max(0.0, ops.min(inputs["level"] - self._at, HEAD_LIMIT))
        return self.carry(ops, state, inputs, share * self._per_tick * ops.sqrt(head))
