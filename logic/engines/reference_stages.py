"""Stages: timers, counters and `rising as`, scan by scan.

They behave as TON, TOF, TP, CTU, CTD and R_TRIG of IEC 61131-3:2013, 6.6.3.5 (from memory),
but that nothing is an edge on the first scan after power-up. Where the standard leaves a
choice: a pulse swallows a rise on its expiry scan, and its elapsed time holds T until power
goes; counting saturates at the ends of INT.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, get_args

from rungproof.grammar.tree import StageKind

COUNT_HIGHEST, COUNT_LOWEST = 32767, -32768


class StageState(NamedTuple):
    """A stage's memory. `powered`: power met it in the last scan. `number`: elapsed ms, or the
    count. `out`: power leaves it."""

    powered: bool = False
    number: int = 0
    out: bool = False


@dataclass(frozen=True, slots=True)
class Met:
    """What a stage meets in a scan: power, its preset (ms or count; 1 for `rising as`), what
    clears or loads it, the ms since the last scan, and whether no edge can be (first scan)."""

    power: bool
    preset: int
    by: bool
    dt_ms: int
    first: bool

    def rises(self, was: StageState) -> bool:
        return self.power and not was.powered and not self.first


def _on_delay(was: StageState, met: Met) -> StageState:
    if not met.power:
        return StageState(powered=False, number=0, out=False)
    elapsed = min(met.preset, was.number + met.dt_ms) if was.powered else 0
    return StageState(powered=True, number=elapsed, out=elapsed >= met.preset)


def _off_delay(was: StageState, met: Met) -> StageState:
    if met.power:
        return StageState(powered=True, number=0, out=True)
    if was.powered:
        return StageState(powered=False, number=0, out=True)
    if was.out:
        elapsed = min(met.preset, was.number + met.dt_ms)
        return StageState(powered=False, number=elapsed, out=elapsed < met.preset)
    return was


def _pulse(was: StageState, met: Met) -> StageState:
    if was.out:
        elapsed = min(met.preset, was.number + met.dt_ms)
        if elapsed < met.preset:
            return StageState(met.power, elapsed, out=True)
        return StageState(met.power, met.preset if met.power else 0, out=False)
    if met.rises(was):
        return StageState(powered=True, number=0, out=True)
    return StageState(met.power, was.number if met.power else 0, out=False)


def _accumulating(was: StageState, met: Met) -> StageState:
    elapsed = was.number
    if met.by:
        elapsed = 0
    elif met.power and was.powered:
        elapsed = min(met.preset, elapsed + met.dt_ms)
    return StageState(met.power, elapsed, elapsed >= met.preset)


def _count_up(was: StageState, met: Met) -> StageState:
    count = was.number
    if met.by:
        count = 0
    elif met.rises(was):
        count = min(count + 1, COUNT_HIGHEST)
    return StageState(met.power, count, count >= met.preset)


def _count_down(was: StageState, met: Met) -> StageState:
    count = was.number
    if met.by:
        count = met.preset
    elif met.rises(was):
        count = max(count - 1, COUNT_LOWEST)
    return StageState(met.power, count, count <= 0)


def _rising(was: StageState, met: Met) -> StageState:
    return StageState(met.power, 0, met.rises(was))


NEXT: dict[StageKind, Callable[[StageState, Met], StageState]] = {
    "on-delay": _on_delay,
    "off-delay": _off_delay,
    "pulse": _pulse,
    "accumulating on-delay": _accumulating,
    "count-up": _count_up,
    "count-down": _count_down,
    "rising": _rising,
}
assert set(NEXT) == set(get_args(StageKind)), "the reference engine must know every stage"
