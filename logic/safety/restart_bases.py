"""Stories in which something starts: what every question about a restart begins with.

Taken from the file's own scenarios, and from a plain scheme: everything at rest, every other
button pressed and let go, and then one button, or two at once, soon or after the longest
time that the program waits for. The shortest that makes a thing move is kept.
"""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.safety.restart_watch import Moving

#: A start that needs longer than this (ms) is not looked for.
LONGEST_MS = 1_200_000

#: A press so long before a start, or one that is still held, is its cause (ms).
CAUSE_MS = 600

#: How long a press lasts (ms), and how long a thing runs before something happens to it.
PRESS_MS, DWELL_MS = 200, 2000

#: So many buttons are tried as starts, alone and in pairs.
MOST_BUTTONS = 8


@dataclass(frozen=True, slots=True)
class Base:
    """A story that starts `moving` at `on_ms` (the first of them) and lasts till all have run for a while, `until_ms`.

    `starts` are the buttons whose press came just before, empty where they start by themselves.
    `stays`: none of them went off again meanwhile.
    """

    moving: tuple[Moving, ...]
    story: Story
    on_ms: int
    until_ms: int
    starts: tuple[str, ...]
    stays: bool

    @property
    def rank(self) -> tuple[bool, bool, int, int]:
        """The lowest is the best to begin with: started by somebody, steady, left alone, short."""
        later = sum(event.at_ms > self.on_ms and event.value is True for event in self.story.events)
        return not self.starts, not self.stays, later, self.on_ms


@dataclass(frozen=True, slots=True)
class Bases:
    """What was found. `cycling`: keys that were seen to come on again by themselves, nobody touching anything.
    `cut`: the time ran out before every way was tried."""

    bases: tuple[Base, ...]
    cycling: frozenset[str]
    cut: bool = False


def bases_of(
    program: Program,
    moving: tuple[Moving, ...],
    *,
    until: float = math.inf,
    progress: Callable[[int, int], None] | None = None,
) -> Bases:
    """For each thing that moves the best way that was found to start it; ways that are the same are one.

    `until` (s, of `time.monotonic`) is when to stop looking. Where that cuts the search, the result says so.
    """
    profile = profile_of(program)
    found: dict[str, Base] = {}
    cycling: set[str] = set()
    cut = False
    plan = list(_candidates(program, profile))
    for done, story in enumerate(plan):
        if progress is not None:
            progress(done, len(plan))
        if time.monotonic() > until:
            cut = True
            break
        late = max((base.until_ms for base in found.values()), default=0) * 4
        if len(found) == len(moving) and story.duration_ms > late and all(base.starts for base in found.values()):
            continue
        for base in _starts(program, profile, story, moving, cycling):
            key = base.moving[0].key
            if key not in found or base.rank < found[key].rank:
                found[key] = base
    ways = tuple(_merged(found[each.key] for each in moving if each.key in found))
    return Bases(ways, frozenset(cycling), cut)


def _merged(bases: Iterable[Base]) -> Iterator[Base]:
    """Bases with the same events as one."""
    alike: dict[tuple[object, ...], list[Base]] = {}
    for base in bases:
        alike.setdefault((base.story.events, base.story.parameters, base.story.scans, base.starts), []).append(base)
    for group in alike.values():
        until = max(base.until_ms for base in group)
        moving = tuple(each for base in group for each in base.moving)
        on, stays = min(base.on_ms for base in group), all(base.stays for base in group)
        story = replace(group[0].story, duration_ms=until)
        yield Base(moving, story, on, until, group[0].starts, stays)


def buttons_of(program: Program, profile: Profile) -> tuple[str, ...]:
    """What is pressed and springs back: push-buttons, two-hand stations, resets on devices; without a plant every tag
    that rests off."""
    if program.plant is None:
        return tuple(key for key in profile.switches if not profile.rest[key])
    kinds = {part.name: part.kind for part in program.plant.assembly.parts}
    momentary = ("push_button", "two_hand_station")
    return tuple(k for k in profile.switches if kinds.get(k.partition(".")[0]) in momentary or k.endswith(".reset"))


def _candidates(program: Program, profile: Profile) -> Iterator[Story]:
    for scenario in program.scenarios:
        if not _fails(program, scenario.story):
            yield replace(scenario.story, duration_ms=min(scenario.story.duration_ms, LONGEST_MS))
    late = max((t for t in profile.times if t <= LONGEST_MS), default=0) + 2000
    buttons = buttons_of(program, profile)[:MOST_BUTTONS]
    for at in dict.fromkeys((2000, late)):
        for rest in _rests(program, profile):
            yield Story(at + 3000, tuple(rest))
            for last in [(b,) for b in buttons] + list(itertools.combinations(buttons, 2)):
                others = [button for button in buttons if button not in last]
                events = list(rest)
                for place, button in enumerate(others):
                    begin = profile.step * (4 + 60 * place)
                    events += _press(button, begin, begin + PRESS_MS)
                events += [event for button in last for event in _press(button, at, at + 2 * PRESS_MS)]
                yield Story(at + 3000, tuple(sorted(events, key=lambda event: event.at_ms)))
                held = [event for event in events if not (event.at_ms > at and event.key in last)]
                yield Story(at + 3000, tuple(sorted(held, key=lambda event: event.at_ms)))


def _rests(program: Program, profile: Profile) -> Iterator[list[Event]]:
    """How all that is no button stands from the start: as it rests, and every guard shut, every key in."""
    buttons = set(buttons_of(program, profile))
    usual = [Event(0, key, True) for key in profile.switches if key not in buttons and profile.rest[key]]
    kept = [e for e in usual if program.knobs[e.key].start is not True]
    yield kept
    shut = [k for k in profile.switches if k not in buttons and not k.endswith(".pressed") and not profile.rest[k]]
    shut = [k for k in shut if program.knobs[k].kind == "operator"]
    if shut:
        yield [*kept, *(Event(0, key, True) for key in shut)]
    for key in profile.numbers:
        for value in profile.values[key][1:4]:
            yield [*kept, *(Event(0, k, True) for k in shut), Event(0, key, value)]


def _press(key: str, begin: int, end: int) -> list[Event]:
    return [Event(begin, key, True), Event(end, key, False)]


def _fails(program: Program, story: Story) -> bool:
    return any(program.knobs[e.key].kind in ("fault", "power", "stop", "free output") for e in story.events)


def _starts(
    program: Program, profile: Profile, story: Story, moving: tuple[Moving, ...], cycling: set[str]
) -> Iterator[Base]:
    """What a story starts, with the story cut off after it has run for a while. Notes what comes on again by itself."""
    trace = fast_engine().run(program, story, watch=frozenset(), record=True).trace
    if trace is None:
        return
    for each in moving:
        column = (trace.tags if each.is_tag else trace.plant).get(each.key, [])
        rises = _rises(trace.times, column)
        for again in rises[1:]:
            if all(not again - CAUSE_MS <= event.at_ms <= again for event in story.events):
                cycling.add(each.key)
        if not rises or rises[0] > LONGEST_MS:
            continue
        on = rises[0]
        off = next((t for t, v in zip(trace.times, column, strict=False) if t > on and not v), None)
        stays = off is None or off > on + DWELL_MS
        until = on + DWELL_MS if stays or off is None else max(on, off - 2 * profile.step)
        events = tuple(event for event in story.events if event.at_ms <= until)
        base = Base((each,), replace(story, events=events, duration_ms=until), on, until, (), stays)
        base = replace(base, starts=_causes(program, profile, base))
        # long after the press, longer than anything in the program waits: the process has switched it on
        waits = max((wait for wait in profile.times if wait <= 30_000), default=0) + CAUSE_MS
        if all(on - waits > event.at_ms for event in events if event.key in base.starts):
            cycling.add(each.key)
        yield base


def _rises(times: list[int], column: list[Scalar]) -> list[int]:
    """When it comes on, having been off."""
    pairs = zip(times[1:], column, column[1:], strict=False)
    return [at for at, before, now in pairs if now and not before]


def _causes(program: Program, profile: Profile, base: Base) -> tuple[str, ...]:
    """The buttons that start it: pressed just before, or still held; else the last one pressed. Each is tried: without
    its press it must not start."""
    buttons = set(buttons_of(program, profile))
    presses = [e for e in base.story.events if e.key in buttons and e.value is True and e.at_ms <= base.on_ms]
    ended = {e.key: e.at_ms for e in base.story.events if e.key in buttons and e.value is False}
    near = [e for e in presses if base.on_ms - e.at_ms <= CAUSE_MS or ended.get(e.key, base.on_ms) >= base.on_ms]
    asked = dict.fromkeys(event.key for event in near or presses[-1:])
    return tuple(key for key in asked if not _on_without(program, base, key))


def _on_without(program: Program, base: Base, key: str) -> bool:
    last = max(e.at_ms for e in base.story.events if e.key == key and e.value is True and e.at_ms <= base.on_ms)
    events = tuple(e for e in base.story.events if not (e.key == key and e.at_ms >= last))
    story = replace(base.story, events=events, duration_ms=base.on_ms)
    final = fast_engine().run(program, story, watch=frozenset()).final
    return bool(final[base.moving[0].key])


def standing(program: Program, events: tuple[Event, ...]) -> Mapping[str, Scalar]:
    """How every knob stands after these events."""
    now: dict[str, Scalar] = {key: knob.start for key, knob in program.knobs.items()}
    now.update({event.key: event.value for event in events})
    return now
