"""The stories of one chunk on their way through a generated run: what happens to whom, who ended with what.

Places are the bits of words and the entries of arrays; `ids` says which story stands in each. Their
number is a multiple of 8: the last story fills up, unheeded. `live` has the bits of those still running.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from rungproof.logic.engines.chance import LaneStream
from rungproof.logic.engines.compiled import initial_values, run_events
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.engines.lanes_ages import LaneAges
from rungproof.logic.engines.lanes_words import Counts, Ints, lanes_in, squeezed
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.steps.margins import NEAREST, OUT_OF_REACH
from rungproof.logic.steps.node import ON
from rungproof.logic.steps.run_plan import RunPlan

#: No event comes at this time (ms), and a lane that has ended never comes to it.
NEVER, LONG_AFTER = 2**62, 2**61

#: The clock is looked at so often.
TURNS = 64

_DTYPES = {"int": np.int64, "real": np.float64}
Array = npt.NDArray[Any]


class Chunk:
    """What a generated run asks and tells. `idle`: so many lanes have ended that it pays to close up.
    `beat`: how long every scan of every lane takes (ms), 0 if they differ."""

    def __init__(self, program: Program, plan: RunPlan, stories: Sequence[Story], until: float | None = None) -> None:
        self.plan, count = plan, len(stories)
        self._until, self._turns = until, 0
        self.octets = -(-count // 8)
        self.ones, self.live = (1 << 8 * self.octets) - 1, (1 << count) - 1
        self.ids = np.minimum(np.arange(8 * self.octets), count - 1)
        placed = [stories[i] for i in self.ids]
        self.environment = _environment(program, plan, placed)
        self.durations = np.array([max(story.duration_ms, 1) for story in placed], np.int64)
        self._first_end = int(self.durations.min())
        self._events = _Events(plan, [run_events(program, story, plan) for story in placed])
        self._lengths = _Lengths([story.scans or (_shortest(program),) for story in placed])
        self.beat = self._lengths.beat
        self._seed, self._lanes = stories[0].seed, np.array([story.lane for story in placed], np.int64)
        self._streams: dict[int, LaneStream] = {}
        self.looks, self.scans = Counts(), Counts()
        self.came = [Counts() for _ in plan.requirements]
        self._bad = [dict[int, int]() for _ in plan.requirements]
        self._known_bad = [0] * len(plan.requirements)
        self._broken: dict[int, int] = {}
        self._margins = [each.name for each in plan.requirements if NEAREST in each.outputs]
        self._ages: list[LaneAges] = []
        self.idle = False
        self.outcomes: list[Outcome | None] = [None] * count

    # ------------------------------------------------------------ while it runs

    def heed(self, slots: frozenset[int]) -> None:
        """Say which places of the environment are worked into what stands still between events."""
        self._events.heeded = slots

    def age(self, firsts: Sequence[int], limit: int) -> LaneAges:
        """An age of a monitor, 0 in every lane."""
        self._ages.append(LaneAges(firsts, limit, self.plan.tick, self.octets))
        return self._ages[-1]

    def happens(self, t: Any) -> int:
        """Apply the events up to `t`: 0 if there were none, 2 if one was heeded, else 1."""
        self._turns += 1
        if self._until is not None and not self._turns % TURNS and time.time() > self._until:
            self.durations = np.minimum(self.durations, np.where(self.durations < LONG_AFTER, t, LONG_AFTER))
            self._first_end = int(self.durations.min())
        return self._events.happen(t, self.environment)

    def draw(self, stream: int, index: int) -> npt.NDArray[np.float64]:
        """A draw of the noise generator for every lane."""
        if stream not in self._streams:
            self._streams[stream] = LaneStream(self._seed, self._lanes, stream)
        return self._streams[stream].uniform(index)

    def lengths(self, begins: int) -> Ints:
        """How long the scan that begins now in the lanes of `begins` takes (ms)."""
        return self._lengths.next(begins, self.octets)

    def next_due(self) -> Ints:
        """When something next happens to each lane: an event, or its end."""
        return np.minimum(self._events.due, self.durations)

    def ends(self, t: Any) -> bool:
        """Whether any lane has come to its end."""
        return bool(t >= self._first_end) if self.plan.has_plant else bool((self.durations <= t).any())

    def over(self, t: Any) -> int:
        """The lanes that have come to their end."""
        return sum(1 << int(place) for place in np.nonzero(self.durations <= t)[0])

    def violates(self, index: int, word: int, t: Any) -> int:
        """Keep the first violations of requirement `index`; `word` comes back."""
        new = word & ~self._known_bad[index]
        if new:
            self._known_bad[index] |= new
            bad = self._bad[index]
            for place in lanes_in(new):
                bad[place] = self._at(t, place)
        return word

    def breaks(self, index: int, word: int, t: Any) -> None:
        """Keep that assumption `index` breaks; of several, the first counts."""
        for place in lanes_in(word):
            self._broken[place] = min(index, self._broken.get(place, index))

    def _at(self, t: Any, place: int) -> int:
        return int(t) if self.plan.has_plant else int(t[place])

    # ----------------------------------------------------------- lanes that end

    def leave(self, gone: int, t: Any, before: Any, now: Any, shown: Sequence[Any]) -> None:
        """Write down the outcome of the lanes `gone`, ended at `now`, or at `before` where an assumption broke."""
        which = np.array(list(lanes_in(gone)), np.int64)
        columns = [each[which].tolist() if isinstance(each, np.ndarray) else [each] * len(which) for each in shown]
        scans, looks = self.scans.numbers(self.octets), self.looks.numbers(self.octets)
        came = [each.numbers(self.octets)[which].tolist() for each in self.came]
        names = [*self.plan.tags, *self.plan.look]
        for row, place in enumerate(which.tolist()):
            broken = self._broken.get(place)
            ended = self._at(now if broken is None else before, place)
            instants = {"scan": int(looks[place]), "tick": ended // self.plan.tick}
            ends = iter([column[row] for column in columns[len(names) :]])
            opens = [bool(next(ends)) for _ in self.plan.requirements]
            nearest = {name: None if broken is not None else next(ends) for name in self._margins}
            judged = self._judged(place, [each[row] for each in came], opens, instants, nearest)
            final = dict(zip(names, (column[row] for column in columns), strict=False))
            cut = None if broken is None else (broken, self._at(t, place))
            self.outcomes[self.ids[place]] = Outcome(judged, (), ended, int(scans[place]), cut, final, None)
        self.live ^= gone
        self.durations[which] = LONG_AFTER
        self._first_end = int(self.durations.min())
        self.idle = 2 * self.live.bit_count() <= 8 * self.octets - 8

    def _judged(
        self,
        place: int,
        came: Sequence[int],
        opens: Sequence[bool],
        instants: dict[str, int],
        nearest: dict[str, Scalar | None],
    ) -> dict[str, Judgement]:
        found = {}
        for index, monitor in enumerate(self.plan.requirements):
            triggers = instants[monitor.instants] if monitor.outputs["triggered"] is ON else came[index]
            margin = nearest.get(monitor.name)
            near = None if margin is None or margin >= OUT_OF_REACH else float(margin)
            found[monitor.name] = Judgement(self._bad[index].get(place), triggers, opens[index], near)
        return found

    def close_up(self) -> Ints:
        """Drop the lanes that have left; the places that are kept, in their new order."""
        kept = list(lanes_in(self.live))
        keep = np.array(kept + kept[-1:] * (-len(kept) % 8), np.int64)
        for counts in (self.looks, self.scans, *self.came):
            counts.squeeze(self.octets, keep)
        for ages in self._ages:
            ages.squeeze(self.octets, keep)
        self.environment = [
            known[keep] if isinstance(known, np.ndarray) else _gathered(known, keep) for known in self.environment
        ]
        self._events.keep(keep)
        self._lengths.keep(keep)
        self._bad = [{new: bad[old] for new, old in enumerate(kept) if old in bad} for bad in self._bad]
        self._known_bad = [squeezed(word, self.octets, keep) for word in self._known_bad]
        self.ids, self.durations, self._lanes = self.ids[keep], self.durations[keep], self._lanes[keep]
        self._streams.clear()
        self.octets, self.live = len(keep) // 8, (1 << len(kept)) - 1
        self.ones, self.idle = (1 << len(keep)) - 1, False
        return keep


class _Events:
    """The events of all lanes, in order of time; without a plant, each lane's by its own clock."""

    def __init__(self, plan: RunPlan, stories: Sequence[list[tuple[int, int, Scalar]]]) -> None:
        self._shared = plan.has_plant
        self.heeded: frozenset[int] = frozenset()
        self._stories = list(stories)
        self._next = [0] * len(stories)
        self.due = np.array([events[0][0] for events in stories], np.int64)
        self._queue = self._queued() if self._shared else []

    def _queued(self) -> list[tuple[int, int, int, Scalar]]:
        """Latest first, so that what is due is popped; of one time, in each story's own order."""
        queue = [
            (at, place, slot, value) for place, events in enumerate(self._stories) for at, slot, value in events[:-1]
        ]
        queue.sort(key=lambda event: event[0])
        queue.reverse()
        return [(NEVER, 0, 0, False), *queue]

    def happen(self, t: Any, environment: list[Any]) -> int:
        return self._happen_to_all(t, environment) if self._shared else self._happen_to_each(t, environment)

    def _happen_to_all(self, t: int, environment: list[Any]) -> int:
        queue, found = self._queue, 0
        while queue[-1][0] <= t:
            _, place, slot, value = queue.pop()
            _set(environment, slot, place, value)
            found = 2 if found == 2 or slot in self.heeded else 1
        return found

    def _happen_to_each(self, t: Ints, environment: list[Any]) -> int:
        found = 0
        for place in np.nonzero(self.due <= t)[0].tolist():
            events = self._stories[place]
            while events[self._next[place]][0] <= t[place]:
                _, slot, value = events[self._next[place]]
                _set(environment, slot, place, value)
                self._next[place] += 1
                found = max(found, 1 + (slot in self.heeded))
            self.due[place] = events[self._next[place]][0]
        return found

    def keep(self, keep: Ints) -> None:
        if self._shared:
            # The last place may stand there several times, to fill up: its first is the one that counts.
            new = {old: place for place, old in reversed(list(enumerate(keep.tolist())))}
            never, *queue = self._queue
            self._queue = [never, *((at, new[place], slot, v) for at, place, slot, v in queue if place in new)]
        else:
            self._stories = [self._stories[i] for i in keep]
            self._next = [self._next[i] for i in keep]
        self.due = self.due[keep]


class _Lengths:
    """The lengths of every lane's scans (ms), the last of them repeated for ever."""

    def __init__(self, scans: Sequence[tuple[int, ...]]) -> None:
        most = max(map(len, scans))
        self._table = np.array([[*each, *[each[-1]] * (most - len(each))] for each in scans], np.int64)
        self._next = np.zeros(len(scans), np.int64)
        self._settled = most == 1
        first = int(self._table[0, 0])
        self.beat = first if bool((self._table == first).all()) else 0

    def next(self, begins: int, octets: int) -> Ints:
        if self._settled:
            last: Ints = self._table[:, -1]
            return last
        most = self._table.shape[1] - 1
        found: Ints = self._table[np.arange(len(self._next)), np.minimum(self._next, most)]
        for place in lanes_in(begins):
            self._next[place] += 1
        self._settled = bool(self._next.min() >= most)
        return found

    def keep(self, keep: Ints) -> None:
        self._table, self._next = self._table[keep], self._next[keep]


def _set(environment: list[Any], slot: int, place: int, value: Scalar) -> None:
    """One lane's value of one thing: a bit of a word, or an entry of an array."""
    stands = environment[slot]
    if type(stands) is int:
        bit = 1 << place
        if bool(stands & bit) != value:
            environment[slot] = stands ^ bit
    else:
        stands[place] = value


def _environment(program: Program, plan: RunPlan, stories: Sequence[Story]) -> list[Any]:
    """Every moving thing at time 0: a word or an array."""
    starts = [initial_values(program, story, plan) for story in stories]
    made: list[Any] = []
    for slot, node in enumerate(plan.environment):
        column = [each[slot] for each in starts]
        made.append(_gathered_truths(column) if node.type == "bool" else np.array(column, _DTYPES[node.type]))
    return made


def _gathered_truths(column: Sequence[Scalar]) -> int:
    return sum(1 << place for place, value in enumerate(column) if value)


def _gathered(word: int, keep: Ints) -> int:
    return _gathered_truths([word >> int(place) & 1 for place in keep])


def _shortest(program: Program) -> int:
    return program.controller.scan_low if program.controller is not None else 1


Run = Callable[[Chunk, Any], None]
