"""Which inputs caused a value: each one tried by changing it and running the story again.

A cause is a stretch of one input, or a few of them together, such that with another value
there (and everything else as in the story) the value asked about would be another one. None
can be left out: of a few together, no smaller lot changes anything. So the list is minimal by
trial, not by argument; what was not found in the runs that were spent is not claimed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.meaning.program import Event, Knob, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.teaching.cone import knobs_behind

#: Instants that may be run in all while causes are looked for, and runs in any case.
MOST_INSTANTS, LEAST_RUNS, MOST_RUNS = 3_000_000, 100, 3000

#: Inputs beyond which lots of them are no longer tried together.
MOST_TOGETHER = 14


@dataclass(frozen=True, slots=True)
class Change:
    """Knob `key` was `was` from `from_ms` until `until_ms` (parameters: all the time); `instead`
    is what it was changed to, from `changed_from_ms` until `changed_until_ms`."""

    key: str
    was: Scalar
    from_ms: int
    until_ms: int
    instead: Scalar
    changed_from_ms: int
    changed_until_ms: int


@dataclass(frozen=True, slots=True)
class Cause:
    """One change, or a few that only together make a difference; `becomes` is the value then."""

    changes: tuple[Change, ...]
    becomes: Scalar


@dataclass(frozen=True, slots=True)
class Causes:
    """`value` of `name` at `at_ms`, and what caused it. `cut`: the runs were spent before all was tried."""

    name: str
    at_ms: int
    value: Scalar
    causes: tuple[Cause, ...]
    runs: int
    cut: bool


@dataclass(frozen=True, slots=True)
class _Stretch:
    key: str
    value: Scalar
    from_ms: int
    until_ms: int


def causes_of(program: Program, story: Story, name: str, at_ms: int) -> Causes:
    """What caused the value of `name` (a tag, a stage, a signal of the plant) at `at_ms` of `story`.

    Raises `KeyError` for a name that the run does not show.
    """
    return _Trial(program, story, name, at_ms).find()


def changed(program: Program, story: Story, changes: Sequence[Change], asked_ms: int) -> Story:
    """The story with these stretches changed and all else as it was. A stretch that lasts up to the
    instant asked about lasts beyond it: power that is gone at that very instant would count."""
    for change in changes:
        knob = program.knobs[change.key]
        if knob.kind == "parameter":
            parameters = dict(story.parameters) | {change.key: change.instead}
            story = replace(story, parameters=tuple(sorted(parameters.items())))
        else:
            story = replace(story, events=_overlaid(story.events, knob, change, asked_ms))
    return story


def value_at(program: Program, story: Story, name: str, at_ms: int) -> Scalar:
    """The value of `name` at the first instant not before `at_ms`."""
    return fast_engine().run(program, replace(story, duration_ms=at_ms), watch=frozenset()).final[name]


def _overlaid(events: tuple[Event, ...], knob: Knob, change: Change, asked_ms: int) -> tuple[Event, ...]:
    begin, end = change.changed_from_ms, change.changed_until_ms
    own = [event for event in events if event.key == change.key]
    after: Scalar = knob.start
    for event in own:
        if event.at_ms <= end:
            after = event.value
    kept = [e for e in events if e.key != change.key or not begin <= e.at_ms <= end]
    kept.append(Event(begin, change.key, change.instead))
    if end < asked_ms:
        kept.append(Event(end, change.key, after))
    return tuple(sorted(kept, key=lambda event: event.at_ms))


class _Trial:
    def __init__(self, program: Program, story: Story, name: str, at_ms: int) -> None:
        # an assumption would cut a changed run short, and what it shows then is another instant's value
        self.program = program = replace(program, assumptions=())
        self.story, self.name, self.at_ms = story, name, at_ms
        self.value = value_at(program, story, name, at_ms)
        step = program.instant_ms
        self.scan = program.controller.scan_low if program.controller else step
        self.left = max(LEAST_RUNS, min(MOST_RUNS, MOST_INSTANTS // (at_ms // step + 1)))
        self.runs = 0

    def find(self) -> Causes:
        found: list[Cause] = []
        open_: list[_Stretch] = []
        for stretch in self._stretches():
            cause = self._first([stretch])
            if cause is None:
                open_.append(stretch)
            else:
                found.append(Cause((self._narrowed(cause.changes[0]),), cause.becomes))
        if len(open_) <= MOST_TOGETHER:
            found += self._together(open_, single=bool(found))
        return Causes(self.name, self.at_ms, self.value, tuple(found), self.runs, self.left <= 0)

    def _together(self, stretches: list[_Stretch], single: bool) -> Iterator[Cause]:
        """Lots of two, and of three where nothing smaller is known, of which no part suffices."""
        known: list[set[_Stretch]] = []
        for size in (2, 3):
            if size == 3 and (single or known):
                return
            for lot in combinations(stretches, size):
                if any(each <= set(lot) for each in known):
                    continue
                cause = self._first(lot)
                if cause is not None:
                    known.append(set(lot))
                    yield cause

    def _first(self, lot: Sequence[_Stretch]) -> Cause | None:
        """The first change of the whole lot that makes a difference."""
        for changes in product(*(list(self._changes(stretch)) for stretch in lot)):
            becomes = self._becomes(changes)
            if becomes is not None:
                return Cause(tuple(changes), becomes)
        return None

    def _becomes(self, changes: Sequence[Change]) -> Scalar | None:
        """The value after these changes, if it is another one."""
        if self.left <= 0:
            return None
        self.left -= 1
        self.runs += 1
        value = value_at(self.program, changed(self.program, self.story, changes, self.at_ms), self.name, self.at_ms)
        return None if value == self.value else value

    def _narrowed(self, change: Change) -> Change:
        """Where only the later part of a stretch matters, that part: before it, the input could be anything."""
        if (change.changed_from_ms, change.changed_until_ms) != (change.from_ms, change.until_ms):
            return change
        low, high = change.from_ms, change.until_ms  # changing from..low makes no difference, from..high does
        while high - low > 1 and self.left > 0:
            middle = (low + high) // 2
            if self._becomes([replace(change, changed_until_ms=middle)]) is None:
                low = middle
            else:
                high = middle
        later = replace(change, from_ms=low, changed_from_ms=low)
        return later if low > change.from_ms and self._becomes([later]) is not None else change

    # ------------------------------------------------------------------ inputs

    def _stretches(self) -> list[_Stretch]:
        """Every input that can matter, cut where the story changes it, up to the instant asked about."""
        behind = knobs_behind(self.program, self.name)
        given = dict(self.story.parameters)
        found = []
        for key, knob in self.program.knobs.items():
            if key not in behind:
                continue
            if knob.kind == "parameter":
                found.append(_Stretch(key, given.get(key, knob.start), 0, self.at_ms))
            else:
                found += self._of(key, knob)
        return found

    def _of(self, key: str, knob: Knob) -> Iterator[_Stretch]:
        """Power, stops and faults count only where the story brings them about."""
        quiet = knob.kind in ("power", "stop", "fault", "free output")
        begin, value = 0, knob.start
        told = False
        for event in self.story.events:
            if event.key != key or event.at_ms >= self.at_ms:
                continue
            if event.at_ms > begin and (not quiet or (told and value != knob.start)):
                yield _Stretch(key, value, begin, event.at_ms)
            if event.value != value or not told:
                begin = event.at_ms
            value, told = event.value, True
        if begin < self.at_ms and (not quiet or (told and value != knob.start)):
            yield _Stretch(key, value, begin, self.at_ms)

    def _changes(self, stretch: _Stretch) -> Iterator[Change]:
        knob = self.program.knobs[stretch.key]
        begin, end = stretch.from_ms, stretch.until_ms
        for instead in self._others(knob, stretch):
            whole = Change(stretch.key, stretch.value, begin, end, instead, begin, end)
            yield whole
            if knob.type == "bool" and knob.kind not in ("parameter", "power", "stop") and end - begin > 2 * self.scan:
                yield replace(whole, changed_from_ms=(begin + end) // 2)
                yield replace(whole, changed_from_ms=end - self.scan)
                yield replace(whole, changed_from_ms=begin + self.scan, changed_until_ms=begin + 2 * self.scan)

    def _others(self, knob: Knob, stretch: _Stretch) -> list[Scalar]:
        if knob.type == "bool":
            return [not stretch.value]
        told = [event.value for event in self.story.events if event.key == stretch.key]
        every = dict.fromkeys([knob.start, knob.low, knob.high, *told])
        return [value for value in every if value != stretch.value]
