"""The lanes engine: one program under many stories at once, in numpy, one lane a story.

Gives every lane the outcome that the reference engine gives its story, to the last bit.
Worth its while from some dozens of lanes on; a single story is quicker compiled.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from rungproof.logic.engines import lanes_arithmetic
from rungproof.logic.engines.chance import uniform_lanes
from rungproof.logic.engines.compiled import PROGRAMS_KEPT, SHAPES_KEPT, initial_values, run_events, shape_of
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.engines.lanes_loop import write_lanes
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.steps.lowered import LoweredProgram, lower_program
from rungproof.logic.steps.node import ON
from rungproof.logic.steps.run_plan import RunPlan, Shape, plan_run

#: So many lanes are run at once. Fewer pay more for each call, more fall out of the cache.
CHUNK = 8192

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
_DTYPES = {"bool": np.bool_, "int": np.int64, "real": np.float64}


class Lanes:
    """The stories of one chunk on their way through a generated run: what happens to whom, who has
    ended with what. Arrays have one entry a lane still running; `ids` says which lane it is."""

    def __init__(self, program: Program, plan: RunPlan, stories: Sequence[Story]) -> None:
        self.plan = plan
        self.count = len(stories)
        self.ids = np.arange(self.count)
        self.place = np.arange(self.count)
        starts = [initial_values(program, story, plan) for story in stories]
        self.environment: list[npt.NDArray[Any]] = [
            np.array([each[i] for each in starts], _DTYPES[node.type]) for i, node in enumerate(plan.environment)
        ]
        self.durations = np.array([max(story.duration_ms, 1) for story in stories], np.int64)
        self._first_end = int(self.durations.min())
        self._events = [run_events(program, story, plan) for story in stories]
        self._next = np.zeros(self.count, np.int64)
        self.due = np.array([events[0][0] for events in self._events], np.int64)
        self._first_due = int(self.due.min())
        low = program.controller.scan_low if program.controller is not None else 1
        scans = [story.scans or (low,) for story in stories]
        most = max(len(each) for each in scans)
        self._lengths = np.array([[*each, *[each[-1]] * (most - len(each))] for each in scans], np.int64)
        self._seed = stories[0].seed
        self._keys = np.array([story.lane for story in stories], np.int64)
        self.outcomes: list[Outcome | None] = [None] * self.count

    # ------------------------------------------------------------ while it runs

    def happens(self, t: Any) -> bool:
        """Apply the events up to `t`; whether there were any."""
        if self.plan.has_plant:
            if t < self._first_due:
                return False
            coming = np.nonzero(self.due <= t)[0]
        else:
            coming = np.nonzero(self.due <= t)[0]
            if not len(coming):
                return False
        for lane in coming:
            now = t if self.plan.has_plant else t[lane]
            events, index = self._events[self.ids[lane]], int(self._next[lane])
            while events[index][0] <= now:
                _, slot, value = events[index]
                self.environment[slot][lane] = value
                index += 1
            self._next[lane] = index
            self.due[lane] = events[index][0]
        self._first_due = int(self.due.min())
        return True

    def draw(self, stream: int, index: int) -> npt.NDArray[np.float64]:
        """A draw of the noise generator for every lane still running."""
        return uniform_lanes(self._seed, self._keys, stream, index)

    def lengths(self, scans: Ints) -> Ints:
        """How long the next scan of each lane takes (ms)."""
        found: Ints = self._lengths[np.arange(self.count), np.minimum(scans, self._lengths.shape[1] - 1)]
        return found

    def ends(self, t: Any) -> bool:
        """Whether any lane has come to its end."""
        return bool(t >= self._first_end) if self.plan.has_plant else bool((self.durations <= t).any())

    # ---------------------------------------------------------------- monitors

    def breaks(self, index: int, holds: Any, mask: Bools | None, broken: Ints, halt: Bools) -> bool:
        """Mark the lanes in which assumption `index` breaks; whether there are any."""
        breach = np.broadcast_to(~np.asarray(holds, np.bool_), self.count)
        if mask is not None:
            breach = breach & mask
        if not breach.any():
            return False
        broken[breach & ((broken < 0) | (broken > index))] = index
        halt |= breach
        return True

    def violates(self, violated: Any, mask: Bools | None, bad: Ints, t: Any, halt: Bools | None = None) -> bool:
        """Mark the first violation of the lanes that have one now; whether there are any."""
        if not np.any(violated):
            return False
        hit = (bad < 0) & violated
        if mask is not None:
            hit &= mask
        np.copyto(bad, t, where=hit)
        if halt is not None:
            halt |= hit
        return bool(hit.any())

    def counts(self, triggered: Any, mask: Bools | None, came: Ints) -> None:
        """Count an instant at which a trigger came."""
        if np.any(triggered):
            came += triggered if mask is None else triggered & mask

    # ----------------------------------------------------------- lanes that end

    def leave(
        self, leaving: Bools, t: Any, tallies: Sequence[Ints], judged: Sequence[Ints], shown: Sequence[Any]
    ) -> None:
        """Write down the outcome of every lane that leaves. `tallies`: last instant looked at, scans
        begun, broken assumption or -1, scan instants looked at."""
        which = np.nonzero(leaving)[0]
        columns = [np.broadcast_to(each, self.count)[which].tolist() for each in (*judged, *shown)]
        times = np.broadcast_to(t, self.count)
        for row, lane in enumerate(which):
            ended, scans, broken, looks = (int(each[lane]) for each in tallies)
            cut = (broken, int(times[lane])) if broken >= 0 else None
            instants = {"scan": looks, "tick": ended // self.plan.tick}
            found = self._judged([column[row] for column in columns], instants)
            names = [*self.plan.tags, *self.plan.look]
            final = dict(zip(names, (column[row] for column in columns[len(judged) :]), strict=False))
            self.outcomes[self.ids[lane]] = Outcome(found, (), ended, scans, cut, final, None)

    def _judged(self, values: list[Scalar], instants: dict[str, int]) -> dict[str, Judgement]:
        """Judgements from a lane's row: first violations and counts, then at its end what stands open."""
        plan = self.plan
        found = {}
        for i, monitor in enumerate(plan.requirements):
            bad, came, stands = int(values[2 * i]), int(values[2 * i + 1]), values[i - len(plan.requirements)]
            triggers = instants[monitor.instants] if monitor.outputs["triggered"] is ON else came
            found[monitor.name] = Judgement(None if bad < 0 else bad, triggers, bool(stands))
        return found

    def close_up(self, keep: Bools) -> int:
        """Drop the lanes that have left; how many are left."""
        self.ids = self.ids[keep]
        self.count = len(self.ids)
        self.environment = [each[keep] for each in self.environment]
        self.durations, self.due, self._next = self.durations[keep], self.due[keep], self._next[keep]
        self._lengths, self._keys = self._lengths[keep], self._keys[keep]
        if self.count:
            self._first_end, self._first_due = int(self.durations.min()), int(self.due.min())
        return self.count


@dataclass(frozen=True, slots=True)
class _Ready:
    plan: RunPlan
    source: str
    run: Callable[..., None]


class LanesEngine:
    """Runs many stories of one program at once."""

    def __init__(self) -> None:
        self._lowered: OrderedDict[int, tuple[Program, LoweredProgram]] = OrderedDict()
        self._ready: OrderedDict[tuple[int, Shape], _Ready] = OrderedDict()

    def run_many(
        self,
        program: Program,
        stories: Sequence[Story],
        *,
        watch: frozenset[str] | None = None,
        stop_at_violation: bool = False,
    ) -> list[Outcome]:
        """The outcome of every story, in order, without traces or expectations.

        Raises `ValueError` for a story that is none of the program.
        """
        shapes = [shape_of(program, story, watch, stop_at_violation=stop_at_violation) for story in stories]
        found: list[Outcome | None] = [None] * len(stories)
        groups: dict[tuple[int, frozenset[str]], list[int]] = {}
        for index, (story, shape) in enumerate(zip(stories, shapes, strict=True)):
            groups.setdefault((story.seed, shape.free), []).append(index)
        for members in groups.values():
            moving = frozenset().union(*(shapes[i].moving for i in members))
            first = shapes[members[0]]
            shape = Shape(first.watch, None, moving, first.free, False, stop_at_violation)
            ready = self._prepared(program, shape)
            for at in range(0, len(members), CHUNK):
                chunk = members[at : at + CHUNK]
                lanes = Lanes(program, ready.plan, [stories[i] for i in chunk])
                ready.run(lanes, np)
                for i, outcome in zip(chunk, lanes.outcomes, strict=True):
                    found[i] = outcome
        assert all(outcome is not None for outcome in found), "every lane must end"
        return [outcome for outcome in found if outcome is not None]

    def source(self, program: Program, stories: Sequence[Story], watch: frozenset[str] | None = None) -> str:
        """The generated source for such stories, to read."""
        moving = frozenset().union(*(shape_of(program, story, watch).moving for story in stories))
        first = shape_of(program, stories[0], watch)
        return self._prepared(program, Shape(first.watch, None, moving, first.free, False, False)).source

    def _prepared(self, program: Program, shape: Shape) -> _Ready:
        key = (id(program), shape)
        known = self._lowered.get(id(program))
        if known is None or known[0] is not program:
            known = self._lowered[id(program)] = (program, lower_program(program))
            if len(self._lowered) > PROGRAMS_KEPT:
                self._lowered.popitem(last=False)
            self._ready = OrderedDict((k, v) for k, v in self._ready.items() if k[0] != id(program))
        if key not in self._ready:
            plan = plan_run(known[1], shape)
            source = write_lanes(plan, shape)
            self._ready[key] = _Ready(plan, source, _function(source))
            if len(self._ready) > SHAPES_KEPT:
                self._ready.popitem(last=False)
        return self._ready[key]


def _function(source: str) -> Callable[..., None]:
    scope: dict[str, Any] = {
        "_divide": lanes_arithmetic.divide,
        "_div": lanes_arithmetic.div,
        "_sqrt": lanes_arithmetic.root,
        "_round": lanes_arithmetic.nearest,
    }
    exec(compile(source, "<lanes>", "exec"), scope)  # the source is ours alone, made from nodes
    run: Callable[..., None] = scope["run"]
    return run
