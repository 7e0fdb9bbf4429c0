"""When one story is simpler than another."""

from __future__ import annotations

import math

from rungproof.logic.meaning.program import Story
from rungproof.logic.meaning.typed import Scalar

#: Durations within about 9 % of each other count as equally long, so that rounder times can win.
_PER_OCTAVE = 8


def sort_key(story: Story) -> tuple[int | float, ...]:
    """Smaller is simpler. In this order, because this is the order in which people lose the thread:

    fewer things moved; fewer events; fewer parameters away from their start; fewer scan times
    named; no noise draw named; roughly shorter; rounder times; rounder values; shorter to the
    millisecond; everything earlier.
    """
    times = [event.at_ms for event in story.events]
    values = [event.value for event in story.events] + [value for _, value in story.parameters]
    return (
        len({event.key for event in story.events}),
        len(story.events),
        len(story.parameters),
        len(story.scans),
        int(story.seed != 0) + int(story.lane != 0),
        round(_PER_OCTAVE * math.log2(story.duration_ms + 1)),
        sum(_time_roughness(at) for at in times),
        sum(_value_roughness(value) for value in values),
        story.duration_ms,
        sum(times),
        sum(story.scans),
        sum(abs(value) for value in values),
    )


def _time_roughness(ms: int) -> int:
    """0 for whole seconds, then tenths, hundredths, halves of hundredths, anything."""
    for roughness, size in enumerate((1000, 100, 10, 5)):
        if ms % size == 0:
            return roughness
    return 4


def _value_roughness(value: Scalar) -> int:
    """How many characters the value takes, trailing zeros apart."""
    if isinstance(value, bool):
        return 0
    text = repr(value).removesuffix(".0")
    return len(text.rstrip("0")) if "." not in text and "e" not in text else len(text)
