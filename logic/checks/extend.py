"""Stories grown from other stories: the file's own scenarios, and those that reached new states."""

from __future__ import annotations

from dataclasses import replace

from rungproof.logic.checks.compose import MOST_EVENTS, Composer, Shape
from rungproof.logic.checks.draws import Draws, chance, pick
from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Event, Story

#: Kinds of knobs that are faults.
FAILS = ("fault", "stop")


def extend(profile: Profile, draws: Draws, seed: Story, shape: Shape, whole: bool = False) -> Story:
    """The beginning of `seed`, a little changed, and then something else.

    The shape's fault and free outputs stay in; other faults do not. The story is no longer than
    the shape says, and mostly ends soon after the new part has begun. One in four goes on to the
    full length instead, without anybody touching anything; `whole` stories do so, too, touched or not.
    """
    events = _perturbed(profile, draws, fitting(profile, seed, shape))
    interrupts = {*profile.powers, *profile.stops}
    events = [event for event in events if event.key not in interrupts or event.at_ms > profile.scan[1]]
    tail = 20 * profile.scan[1] << draws.below(6)
    turn = min(_turn(draws, events, seed), max(shape.length_ms - tail, shape.length_ms // 2))
    turn -= turn % profile.step
    calm = chance(draws, 1, 4)
    if not calm and not whole:
        shape = replace(shape, length_ms=min(shape.length_ms, turn + tail))
    composer = Composer(profile, draws, shape)
    if calm:
        composer.hands_off()
    composer.now = turn
    composer.events = [event for event in events if event.at_ms <= composer.now][: MOST_EVENTS // 2]
    for event in composer.events:
        if event.key in composer.state:
            composer.state[event.key] = bool(event.value)
    if not any(event.key in profile.frees for event in composer.events):
        composer.free_outputs()
    composer.parameters, composer.scans, composer.lane = seed.parameters, seed.scans, seed.lane
    composer.go_on()
    return replace(composer.story(), seed=seed.seed)


def fitting(profile: Profile, seed: Story, shape: Shape) -> list[Event]:
    """The events of `seed` that the shape allows for: of faults its own alone, be they left out of account or not."""
    return [
        event
        for event in seed.events
        if (event.key == shape.fault or not (event.key in profile.faults or profile.knobs[event.key].kind in FAILS))
        and (shape.free or event.key not in profile.frees)
    ]


def _perturbed(profile: Profile, draws: Draws, events: list[Event]) -> list[Event]:
    """Leave one event out, or move one by a scan or by a time that something waits for."""
    if not events or not chance(draws, 1, 2):
        return events
    place = draws.below(len(events))
    if chance(draws, 1, 2):
        return events[:place] + events[place + 1 :]
    scan = profile.scan[1]
    by = pick(draws, (-scan, scan, 2 * scan, -profile.step, profile.step, *profile.times[:3]))
    moved = replace(events[place], at_ms=max(0, events[place].at_ms + by))
    return sorted([*events[:place], moved, *events[place + 1 :]], key=lambda event: event.at_ms)


def _turn(draws: Draws, events: list[Event], seed: Story) -> int:
    """Where the new part begins: at the end, or straight after some event."""
    if not events or not chance(draws, 1, 2):
        return seed.duration_ms
    return pick(draws, events).at_ms
