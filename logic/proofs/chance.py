"""Many runs of a system at once, drawn by chance: for what differs soon, quicker than any solver.

Each lane holds its inputs for a while of its own length, and draws numbers from the places where a
comparison turns. It never proves.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np
from rungproof.logic.proofs.bits import Bits, below
from rungproof.logic.proofs.contract import Engine, Found, Result
from rungproof.logic.proofs.run import Run
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, SCAN_TICKS, STOP, System
from rungproof.logic.proofs.tape import TYPES, Column, Tape
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable, StateVariable

#: Runs side by side, and the lengths of pauses (ticks) that are drawn.
LANES, PAUSES = 192, (1, 2, 10, 100, 1000, 100_000)
#: Transitions of the runs that are to show something.
MOST_DRAWN = 2000
#: Transitions without anything new after which undisturbed runs end.
STILL = 120


@dataclass(frozen=True)
class Drawn:
    """`run` shows the output that was looked for in its last transition (None: no lane did);
    `seen` are outputs that came on in some lane; `steps` is how long the lanes are."""

    run: Run | None
    seen: frozenset[str]
    steps: int


def draw(system: System, wanted: str, bits: Bits, *, seed: int, steps: int, time_s: float) -> Drawn:
    """Run lanes until one shows `wanted`, for at most `steps` transitions and `time_s` seconds."""
    return _Lanes(system, wanted, bits, seed).run(steps, time_s)


def drawn(system: System, bits: Bits, output: str, seed: int = 0, most: int = MOST_DRAWN) -> Engine:
    """An engine that shows `output` in a run of `system` as it stands, where runs drawn by chance come to it."""
    lanes = _Lanes(system, output, bits, seed)
    place = lanes.tape.places[system.step.outputs[output]]
    state = starts = {each.name: lanes.start(each) for each in system.step.states.values()}
    for depth in range(1, most + 1):
        columns, state = lanes.moved(state)
        shown = np.broadcast_to(columns[place], (LANES,))
        if shown.any():
            lane = int(np.argmax(shown))
            run = lanes.run_of({name: starts[name] for name in system.free_starts if name in starts}, lane)
            return Result("refuted", depth, found=Found(run.starts, run.given))
        yield None
    return Result("unknown", 0)


def states_drawn(system: System, bits: Bits, *, seed: int, steps: int) -> dict[str, Column]:
    """States that lanes come through, column by column of each state variable."""
    return _Lanes(system, "", bits, seed).states(steps)


def states_undisturbed(system: System, bits: Bits, *, seed: int, most: int) -> dict[str, Column]:
    """The same where nothing moves but what the program does, scans are as short as they can be, and no power goes:
    what takes long is come to, and as soon as it can be. Lanes end when nothing new came on for `STILL` transitions,
    after `most` at the latest."""
    lanes = _Lanes(system, "", bits, seed)
    lanes.change[:] = 0.0
    lanes.cuts[:] = 0.0
    lanes.short_scans = True
    return lanes.states(most, STILL)


class _Lanes:
    def __init__(self, system: System, wanted: str, bits: Bits, seed: int) -> None:
        self.system, self.wanted, self.step = system, wanted, system.step
        self.random = np.random.default_rng(seed)
        self.bits = bits
        self.tape = Tape([*self.step.next.values(), *self.step.outputs.values()])
        self.stretches = [list(each) for _, each in groupby(self.step.inputs.values(), _alike)]
        self.choices: dict[str, Column] = {}
        self.becomes = {name: self.tape.places[node] for name, node in self.step.next.items()}
        # How likely a lane draws an input anew in a transition; and power, which goes less often.
        self.change = self.random.choice([0.02, 0.08, 0.3, 0.6], LANES)
        self.cuts = self.random.choice([0.0, 0.0, 0.005, 0.05], LANES)
        self.given: list[dict[str, Column]] = []
        self.short_scans = False

    def run(self, steps: int, time_s: float) -> Drawn:
        until = time.monotonic() + time_s
        state = {each.name: self.start(each) for each in self.step.states.values()}
        starts = {name: state[name] for name in self.system.free_starts if name in state}
        seen: set[str] = set()
        for place in range(steps):
            self.given.append(self._inputs(place))
            columns = self.tape.run({**state, **self.given[-1]})
            for name, node in self.step.outputs.items():
                column = columns[self.tape.places[node]]
                if name not in seen and np.any(column):
                    seen.add(name)
            if self.wanted in seen:
                column = columns[self.tape.places[self.step.outputs[self.wanted]]]
                lane = int(np.argmax(np.broadcast_to(column, (LANES,))))
                return Drawn(self.run_of(starts, lane), frozenset(seen), place + 1)
            if time.monotonic() > until:
                break
            state = self._after(state, columns)
        return Drawn(None, frozenset(seen), len(self.given))

    def states(self, steps: int, still: int | None = None) -> dict[str, Column]:
        """`still`: transitions without any bool new on in any lane, after which it is enough."""
        on, last = set[str](), 0
        state = {each.name: self.start(each) for each in self.step.states.values()}
        seen = {name: [column] for name, column in state.items()}
        for place in range(steps):
            self.given = [*self.given[-1:], self._inputs(place)]
            state = self._after(state, self.tape.run({**state, **self.given[-1]}))
            for name, column in state.items():
                seen[name].append(column)
                if still is not None and name not in on and column.dtype == np.bool_ and column.any():
                    on.add(name)
                    last = place
            if still is not None and place - last > still:
                break
        return {name: np.concatenate(columns) for name, columns in seen.items()}

    def moved(self, state: Mapping[str, Column]) -> tuple[list[Any], dict[str, Column]]:
        """One transition with inputs drawn anew: what all nodes are in it, and the state after it."""
        self.given.append(self._inputs(len(self.given)))
        columns = self.tape.run({**state, **self.given[-1]})
        return columns, self._after(state, columns)

    def _after(self, state: Mapping[str, Column], columns: list[Any]) -> dict[str, Column]:
        return {
            name: column if name not in self.becomes else _wide(columns[self.becomes[name]])
            for name, column in state.items()
        }

    def run_of(self, starts: Mapping[str, Column], lane: int) -> Run:
        plain = {name: _plain(column[lane]) for name, column in starts.items()}
        given = tuple({name: _plain(column[lane]) for name, column in row.items()} for row in self.given)
        return Run(plain, given)

    # ----------------------------------------------------------------- drawing

    def start(self, each: StateVariable) -> Column:
        if each.name not in self.system.free_starts:
            return np.full(LANES, each.start, TYPES[each.type])
        found: Column = self.random.choice(np.array(self._places(each), TYPES[each.type]), LANES)
        found[: LANES // 2] = each.start
        return found

    def _inputs(self, place: int) -> dict[str, Column]:
        before = self.given[-1] if self.given else None
        now: dict[str, Column] = {}
        for stretch in self.stretches:
            if stretch[0].type == "bool" and stretch[0].name not in (CUT, STOP):
                now |= self._bools(stretch, before)
            else:
                now |= {each.name: self._one(each, before, place) for each in stretch}
        return now

    def _bools(self, stretch: Sequence[InputVariable], before: Mapping[str, Column] | None) -> dict[str, Column]:
        """Bools drawn together, each by the very numbers that it would be drawn by alone."""
        drawn = self.random.random((2 * len(stretch), LANES))
        fresh, anew = drawn[0::2] < 0.5, drawn[1::2] < self.change
        if before is not None:
            fresh = np.where(anew, fresh, np.stack([before[each.name] for each in stretch]))
        return {each.name: column for each, column in zip(stretch, fresh, strict=True)}

    def _one(self, each: InputVariable, before: Mapping[str, Column] | None, place: int) -> Column:
        if each.name == SCAN_TICKS and self.short_scans:
            return np.full(LANES, int(each.low), np.int64)
        if each.name in (CUT, STOP):
            drawn: Column = self.random.random(LANES) < (self.cuts if place else 0.0)
            stays = before[each.name] & (self.random.random(LANES) < 0.5) if before and each.name == STOP else False
            return drawn | stays
        fresh = self._fresh(each)
        anew = self.random.random(LANES) < self.change
        return fresh if before is None else np.where(anew, fresh, before[each.name])

    def _fresh(self, each: InputVariable) -> Column:
        if each.name not in self.choices:
            places = PAUSES if each.name == OUTAGE_TICKS else self._places(each)
            self.choices[each.name] = np.array(places, TYPES[each.type])
        found: Column = self.random.choice(self.choices[each.name], LANES)
        return np.minimum(found, int(each.high)) if each.name == OUTAGE_TICKS else found

    def _places(self, each: InputVariable | StateVariable) -> list[Any]:
        """The ends of a range, its middle, and both sides of every place where a comparison of it turns."""
        middle = (each.low + each.high) // 2 if each.type == "int" else (each.low + each.high) / 2
        found = [each.low, each.high, middle]
        for threshold, _ in self.bits.thresholds.get(each.name, ()):
            found += [threshold, below(threshold)]
        for fact in self.bits.facts.values():
            if fact.name == each.name and fact.bound is not None:
                found += [fact.bound, fact.bound + 1 if each.type == "int" else np.nextafter(fact.bound, np.inf)]
        return sorted({value for value in found if each.low <= value <= each.high})


def _alike(each: InputVariable) -> tuple[str, bool]:
    return each.type, each.name in (CUT, STOP)


def _wide(column: Any) -> Column:
    """A column of all lanes: what does not vary is worked out once."""
    return column if column.shape else np.broadcast_to(column, (LANES,))


def _plain(value: Any) -> Scalar:
    result: Scalar = value.item()
    return result
