"""Two ways in which moving parts move: at constant speed between two ends, and by a lag."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from rungproof.plant.operators import Ops, Value


@dataclass(frozen=True, slots=True)
class Travel:
    """Constant speed between 0 and `reach`; a time of 0 s is one tick."""

    reach: float
    forward_s: float
    back_s: float
    dt_s: float

    def moved(self, ops: Ops, position: Value, forward: Value) -> Any:
        """The position after a tick, held within 0..reach."""
        ahead = ops.min(position + self.reach * self.dt_s / max(self.forward_s, self.dt_s), self.reach)
        back = ops.max(position - self.reach * self.dt_s / max(self.back_s, self.dt_s), 0.0)
        return ops.select(forward, ahead, back)

    def ticks_back(self) -> int | None:
        """Ticks in which it is surely back at 0 from wherever it stood; None for one too slow to say so.

        Each subtraction is rounded: by no more than 2e-16 of the reach.
        """
        step = self.dt_s / max(self.back_s, self.dt_s)
        return math.ceil(1.0 / (step - 4e-16)) + 1 if step > 1e-9 else None


@dataclass(frozen=True, slots=True)
class Lag:
    """First-order lag by backward Euler, one time constant up and one down.

    value' = value + (target - value) dt/(T + dt). Held within 0..100 (%).
    """

    up_s: float
    down_s: float
    dt_s: float

    def followed(self, ops: Ops, value: Value, target: Value) -> Any:
        """The value after a tick."""
        share: Any = self.dt_s / (self.up_s + self.dt_s)
        if self.up_s != self.down_s:
            share = ops.select(target < value, self.dt_s / (self.down_s + self.dt_s), share)
        return ops.max(0.0, ops.min(value + (target - value) * share, 100.0))
