"""Long runs, numbered: each lasts long enough to judge what speaks of the longest times.

Five kinds in turn: a scenario of the file that goes on with anything; one in which power goes for
good; one that is left in operation while the world's numbers move; one whose buttons are tapped
again and again, as far apart as something waits for; a fresh story. Parameters are swept by a
low-discrepancy sequence, scan times go from the shortest to the longest, faults and scenarios take
turns. A run's story hangs on its seed and number alone, so that any run replays by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import count

from rungproof.logic.checks.compose import MOST_EVENTS, Composer, Shape, compose
from rungproof.logic.checks.draws import SeededDraws, some
from rungproof.logic.checks.extend import extend, fitting
from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Event, Knob, Story
from rungproof.logic.meaning.typed import Scalar

#: Keeps the draws of long runs apart from all others.
_KEY = 0xCA3

KINDS = 5

#: Where power goes for good it does so in the first of so many parts of the run.
_SOON = 8

#: How often the world's numbers move in an operation, in turn.
_STEPS = (0, 4, 12, 40)


def long_story(profile: Profile, scenarios: Sequence[Story], seed: int, number: int, shape: Shape) -> Story:
    """The story of long run `number` (0 or more) of its shape's scope."""
    draws = SeededDraws(seed, _KEY, 2 * (shape.fault is not None) + shape.free, number)
    turn, kind = divmod(number, KINDS)
    if kind == 4 or not (scenarios or kind == 1):
        return _swept(profile, compose(profile, draws, shape), number)
    bases = sorted(scenarios, key=lambda story: -story.duration_ms) or [_at_rest(profile)]
    base = bases[turn % len(bases)]
    if kind == 0:
        return _swept(profile, extend(profile, draws, base, shape, whole=True), number)
    composer = _LongComposer(profile, draws, shape, base, _SOON if kind == 1 else 2)
    if kind == 1:
        composer.go_dark()
    elif kind == 2:
        composer.operate(_STEPS[turn % len(_STEPS)])
    else:
        composer.cycle()
    return _swept(profile, replace(composer.story(), seed=base.seed), number)


def fault_of(profile: Profile, seed: int, number: int) -> str | None:
    """The fault of long run `number`: all of the program's take turns, in a seeded order."""
    if not profile.faults:
        return None
    draws, left = SeededDraws(seed, _KEY), list(profile.faults)
    order = [left.pop(draws.below(len(left))) for _ in profile.faults]
    return order[number % len(order)]


class _LongComposer(Composer):
    """A story that begins as a scenario does, for one of `parts` at the most, and then keeps to one way of going on."""

    def __init__(self, profile: Profile, draws: SeededDraws, shape: Shape, base: Story, parts: int) -> None:
        super().__init__(profile, draws, shape)
        self.hands_off()
        self.now = min(base.duration_ms, shape.length_ms // parts)
        self.now -= self.now % profile.step
        interrupts = {*profile.powers, *profile.stops}
        self.events = [
            event
            for event in fitting(profile, base, shape)
            if event.at_ms <= self.now and (event.key not in interrupts or event.at_ms > profile.scan[1])
        ][: MOST_EVENTS // 2]
        for event in self.events:
            if event.key in self.state:
                self.state[event.key] = bool(event.value)
        self.parameters, self.scans, self.lane = base.parameters, base.scans, draws.below(1000) if profile.noisy else 0
        if shape.fault is not None:
            self._one_fault(shape.fault)

    def cycle(self) -> None:
        """The same few buttons, one after another, each time as long apart as something waits for."""
        self.free_outputs()
        waits = self.profile.times_up_to(self.shape.length_ms // 4)[-3:] or (self.shape.length_ms // 16,)
        wait = waits[-1 - self.draws.below(len(waits))]
        keys = some(self.draws, self.profile.switches, 3) if self.profile.switches else []
        while keys and self.now < self.shape.length_ms and len(self.events) < MOST_EVENTS:
            for key in keys:
                self._tap_for(key, self._stretch())
                self.now += self._on_grid(10 * self._gap()) + self.profile.step
            self.now += self._on_grid(wait + self.profile.scan[1] * (self.draws.below(4) - 1))

    def go_dark(self) -> None:
        """All power goes, and nobody comes: the world stands at the high end of what is assumed of it, then at the
        low end. What that does to a machine takes nothing but time, which chance cuts seldom give it."""
        self.free_outputs()
        gone = max(self.now, 2 * self.profile.scan[1])
        half = self._on_grid((self.shape.length_ms - gone) // 2)
        for key in self.profile.numbers:
            low, high = self.profile.assumed[key]
            self._add(gone, key, high)
            self._add(gone + half, key, low)
        for key in self.profile.powers:
            self._add(gone, key, True)

    def operate(self, steps: int) -> None:
        """Everything is left alone, terminals of the story's at their highest; numbers move `steps` times."""
        if self.shape.free:
            for key in self.profile.frees:
                knob = self.profile.knobs[key]
                self._add(0, key, True if knob.type == "bool" else knob.high)
        left = self.shape.length_ms - self.now
        for _ in range(steps if self.profile.numbers else 0):
            self.now += max(self.profile.step, self._on_grid(self.draws.below(2 * left // steps)))
            self._number()


def _at_rest(profile: Profile) -> Story:
    return Story(0, tuple(Event(0, key, profile.rest[key]) for key in profile.switches))


def _swept(profile: Profile, story: Story, number: int) -> Story:
    """With the parameters and scan times of run `number`; number 0 keeps those it has."""
    if not number:
        return story
    parameters = tuple(
        (key, _within(profile.knobs[key], radical_inverse(number, base), *profile.assumed[key]))
        for key, base in zip(profile.parameters, _primes(len(profile.parameters)), strict=True)
    )
    low, high = profile.scan
    scans = story.scans if low == high else ((low,), (high,), story.scans)[number % 3]
    return replace(story, parameters=parameters, scans=scans)


def _within(knob: Knob, share: float, low: int | float, high: int | float) -> Scalar:
    if knob.type == "bool":
        return share >= 0.5
    if knob.type == "int":
        return int(low) + int(share * (int(high) - int(low) + 1))
    return low + (high - low) * share


def radical_inverse(number: int, base: int) -> float:
    """The digits of `number` in `base`, mirrored at the point: in 0..1, below 1.

    Over several prime bases this is Halton's sequence (Halton, Numerische Mathematik 2, 1960).
    """
    value, scale = 0, 1
    while number:
        number, digit = divmod(number, base)
        value, scale = value * base + digit, scale * base
    return value / scale


def _primes(how_many: int) -> list[int]:
    found: list[int] = []
    for number in count(2):
        if len(found) == how_many:
            break
        if all(number % prime for prime in found):
            found.append(number)
    return found
