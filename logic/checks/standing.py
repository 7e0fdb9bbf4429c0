"""Runs in which everything stands on, and then everything stands off: what a machine does when it is left to itself.

Chance rarely leaves a machine alone for long. What a proof assumes of the plant (how fast it fills, how it runs down)
shows itself just there, so these runs are made for it, whatever else the clock allows.
"""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.typed import Scalar

#: Ticks of all such runs together at the most, and switches that are held one at a time.
MOST_TICKS, MOST_HELD = 400_000, 6

#: So long (ms) beyond the time that an assumption speaks of, everything stays on, and then everything off.
BEYOND = 30_000


def standing(profile: Profile, longest: int, *, free: bool) -> Iterator[Story]:
    """Stories for assumptions that wait `longest` ms: with nothing held, each switch held, all of them held; the
    world at the low and at the high end of what is assumed of it. `free`: the terminals are the story's."""
    switches = profile.switches
    ways = ((), *((key,) for key in switches[:MOST_HELD]), switches)
    ends = (False, True) if profile.numbers else (False,)
    half = min(longest + BEYOND, MOST_TICKS // (len(ways) * len(ends)) * profile.tick // 2)
    half -= half % profile.step
    for held in ways:
        for high in ends:
            begin = [Event(0, key, profile.rest[key] != (key in held)) for key in switches]
            begin += [Event(0, key, profile.assumed[key][high]) for key in profile.numbers]
            end = [Event(half, key, profile.rest[key]) for key in held]
            if free:
                begin += [Event(0, key, _end_of(profile, key, on=True)) for key in profile.frees]
                end += [Event(half, key, _end_of(profile, key, on=False)) for key in profile.frees]
            yield Story(2 * half, (*begin, *end))


def _end_of(profile: Profile, key: str, *, on: bool) -> Scalar:
    knob = profile.knobs[key]
    return on if knob.type == "bool" else knob.high if on else knob.low
