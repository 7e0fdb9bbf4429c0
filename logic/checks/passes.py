"""Shrinking passes: each proposes stories that may be simpler and still violate.

A pass is a function from a story to proposals, boldest first. It need not know whether a
proposal is simpler: the loop in `shrink.py` asks `sort_key`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from rungproof.logic.meaning.program import Event, Knob, Story
from rungproof.logic.meaning.typed import Scalar


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a proposal must keep to: the grid of events (ms), scan times, the knobs' ranges."""

    step: int
    scan: tuple[int, int]
    knobs: Mapping[str, Knob]


Pass = Callable[[Story, Bounds], Iterator[Story]]


def plain_circumstances(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Parameters at their start, one scan time, no noise draw: all of it, then each alone."""
    yield replace(story, parameters=(), scans=(), seed=0, lane=0)
    yield replace(story, seed=0, lane=0)
    yield replace(story, parameters=())
    for place in range(len(story.parameters)):
        yield replace(story, parameters=story.parameters[:place] + story.parameters[place + 1 :])
    if story.scans:
        yield from (replace(story, scans=scans) for scans in ((), (bounds.scan[0],), (bounds.scan[1],)))
        for count in _halves(len(story.scans)):
            yield replace(story, scans=story.scans[:count])
        for place, scan in enumerate(story.scans):
            for simple in bounds.scan:
                if simple != scan:
                    yield replace(story, scans=(*story.scans[:place], simple, *story.scans[place + 1 :]))


def _halves(count: int) -> Iterator[int]:
    """1, 2, 4 ... below `count`, then count - 1."""
    size = 1
    while size < count:
        yield size
        size *= 2
    yield count - 1


def fewer_keys(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Leave one thing alone altogether, or only begin with it."""
    for key in dict.fromkeys(event.key for event in story.events):
        yield replace(story, events=tuple(event for event in story.events if event.key != key))
    for key in dict.fromkeys(event.key for event in story.events):
        first = next(event for event in story.events if event.key == key)
        yield replace(story, events=tuple(e for e in story.events if e.key != key or e is first))


def fewer_events(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Leave out stretches of events, halves first, down to single ones; then begin and end together."""
    events = story.events
    size = len(events) // 2
    while size >= 1:
        for start in range(len(events) - size, -1, -size):
            yield replace(story, events=events[:start] + events[start + size :])
        size //= 2
    for place, event in enumerate(events):
        later = next((i for i in range(place + 1, len(events)) if events[i].key == event.key), None)
        if later is not None:
            yield replace(story, events=tuple(e for i, e in enumerate(events) if i not in (place, later)))


def shorter_waits(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Take time out between two instants: all of it, half, a quarter, ... one step."""
    times = sorted({0, *(event.at_ms for event in story.events)})
    for before, after in pairwise(times):
        for less in _less(after - before, bounds.step):
            yield _moved_from(story, after, -less)


def earlier(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Move one event alone to the instant before it, or halfway there."""
    for place, event in enumerate(story.events):
        before = max((e.at_ms for e in story.events if e.at_ms < event.at_ms), default=0)
        for less in _less(event.at_ms - before, bounds.step):
            yield _with_event(story, place, replace(event, at_ms=event.at_ms - less))


def _less(gap: int, step: int) -> Iterator[int]:
    size = gap
    while size >= step:
        yield size - size % step
        size //= 2


def rounder_times(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Move an instant, with all that follows or alone, to a round time close by."""
    for at in sorted({event.at_ms for event in story.events if event.at_ms > 0}):
        for size in (1000, 500, 100, 50, 10, 5):
            for rounded in (at - at % size, at - at % size + size):
                if rounded != at and rounded % bounds.step == 0:
                    yield _moved_from(story, at, rounded - at)
                    moved = tuple(replace(e, at_ms=rounded) if e.at_ms == at else e for e in story.events)
                    yield _sorted(replace(story, events=moved, duration_ms=story.duration_ms + size))


def _moved_from(story: Story, at: int, by: int) -> Story:
    """Everything from instant `at` on moved by `by` ms."""
    events = tuple(replace(e, at_ms=max(0, e.at_ms + by)) if e.at_ms >= at else e for e in story.events)
    return replace(story, events=events, duration_ms=max(1, story.duration_ms + by))


def simpler_values(story: Story, bounds: Bounds) -> Iterator[Story]:
    """Numbers at their start, at an end of their range, or with fewer digits."""
    for place, event in enumerate(story.events):
        for value in _simpler(bounds.knobs.get(event.key), event.value):
            yield _with_event(story, place, replace(event, value=value))
    for place, (key, value) in enumerate(story.parameters):
        for simple in _simpler(bounds.knobs.get(key), value):
            yield replace(story, parameters=(*story.parameters[:place], (key, simple), *story.parameters[place + 1 :]))


def _simpler(knob: Knob | None, value: Scalar) -> Iterator[Scalar]:
    if knob is None or isinstance(value, bool):
        return
    proposals = [knob.start, knob.low, knob.high, *_rounder(value)]
    for proposal in dict.fromkeys(proposals):
        if proposal != value and knob.low <= proposal <= knob.high:
            yield int(proposal) if knob.type == "int" else float(proposal)


def _rounder(value: int | float) -> Iterator[int | float]:
    """Numbers of one, two, three digits close by, on both sides."""
    for digits in (1, 2, 3):
        near = Decimal(f"{value:.{digits - 1}e}")
        unit = Decimal((0, (1,), near.adjusted() - digits + 1))
        for each in (near, near + unit, near - unit):
            yield int(each) if isinstance(value, int) else float(each)


def _with_event(story: Story, place: int, event: Event) -> Story:
    return _sorted(replace(story, events=(*story.events[:place], event, *story.events[place + 1 :])))


def _sorted(story: Story) -> Story:
    return replace(story, events=tuple(sorted(story.events, key=lambda event: event.at_ms)))


#: Bold and cheap first: what makes later runs shorter.
PASSES: tuple[Pass, ...] = (
    plain_circumstances,
    fewer_keys,
    fewer_events,
    shorter_waits,
    earlier,
    simpler_values,
    rounder_times,
)
