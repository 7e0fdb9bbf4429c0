"""The machine at rest and in operation, and what is asked of it then: the situations in which faults come.

Operation is taken from the author's scenarios, without the faults and the power cuts in them: the
first instant at which a declared safe state is left, and a little later, is "running". Where no
scenario gets there, seeded stories are tried. A *demand* is found by its effect, and not by the
name of a part: one act of one person, one number of the world at one of its ends, one cut or one
stop, after which the machine without a fault goes to the safe state, sooner than it would unasked,
and stays there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from rungproof.logic.checks.compose import Shape, compose
from rungproof.logic.checks.draws import SeededDraws
from rungproof.logic.checks.profile import Profile
from rungproof.logic.checks.words import rounded, time_words
from rungproof.logic.engines.forked import ForkedRuns, Mark
from rungproof.logic.faults.eyes import Eyes, Safe
from rungproof.logic.meaning.program import Event, Program, Scenario, Story

#: The machine runs so long before something fails or is asked, at most; and so long a demand is watched (ms).
SETTLE_MS, WATCH_MS = 2000, 5000

#: What the world does may take so long to bring the safe state (ms).
SLOW_WATCH_MS = 600_000

#: A fault that comes while the machine runs comes so long before the demand, at most (ms).
DWELL_MS = 1000

#: Seeded stories that are tried where no scenario sets the machine going, and their length (ms).
TRIED, TRIED_MS = 200, 20_000


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked, and how the machine without a fault answers: `safe_ms` after it the safe state
    stands; unasked it would stand after `anyway_ms` (None: not at all). It is watched for `watch_ms`.

    An answer that comes less than `sooner_ms` before `anyway_ms` is none: the machine came to its end."""

    words: str
    event: Event
    safe_ms: int
    anyway_ms: int | None
    watch_ms: int
    safe: Safe
    sooner_ms: int


@dataclass(frozen=True)
class Situation:
    """One way of running. `before`: the story's events until `asked_ms`; faults come at `rest_ms`, at
    `running_ms` or at `asked_ms`, when demands come too. `running` and `asked` are the healthy run
    broken off at these times."""

    words: str
    safe: Safe
    base: Story
    before: tuple[Event, ...]
    rest_ms: int
    running_ms: int
    asked_ms: int
    program: Program
    told: tuple[str, ...]
    running: Mark
    asked: Mark
    demands: tuple[Demand, ...]

    @cached_property
    def runs(self) -> ForkedRuns:
        """Made where it is needed: what is generated is not pickled."""
        return ForkedRuns(self.program, self.told, self.base)

    def __getstate__(self) -> dict[str, object]:
        return {name: value for name, value in self.__dict__.items() if name != "runs"}

    def until(self, since: int, until: int) -> list[Event]:
        """The story's own events from `since` on and before `until`."""
        return [event for event in self.before if since <= event.at_ms < until]


def situations_of(program: Program, profile: Profile, eyes: Eyes, seed: int) -> tuple[list[Situation], list[str]]:
    """One situation for each declared safe state, and why there is none for some."""
    found: list[Situation] = []
    untried = [f"{name}: it declares no safe state that can be read at one instant" for name in eyes.undeclared]
    for safe in eyes.safes:
        situation = _operating(program, profile, eyes, safe, seed)
        if situation is None:
            untried.append(f"{', '.join(safe.hazards)}: no run found that leaves its safe state")
        else:
            found.append(situation)
    return found, untried


def _operating(program: Program, profile: Profile, eyes: Eyes, safe: Safe, seed: int) -> Situation | None:
    """The situation that gets to work soonest, a scenario's where there is one."""
    best: _Work | None = None
    for words, story in _stories(program, profile, seed):
        if best is not None and words == "a story drawn by chance":
            break
        runs = ForkedRuns(program, eyes.told, story)
        steps = eyes.safe(safe, runs.end(story.duration_ms, story.events))
        left = next(((begins, until) for begins, until, value in steps.pieces(0) if not value), None)
        if left is not None and (best is None or left[0] < best.began):
            best = _Work(*left, words, story)
    return None if best is None else _situation(program, profile, eyes, safe, best)


def _stories(program: Program, profile: Profile, seed: int) -> Iterator[tuple[str, Story]]:
    for scenario in program.scenarios:
        yield f'as in scenario "{scenario.name}"', _healthy(program, scenario)
    for number in range(TRIED):
        story = compose(profile, SeededDraws(seed, number), Shape(TRIED_MS))
        yield "a story drawn by chance", replace(story, events=_kept(program, story.events))


def _healthy(program: Program, scenario: Scenario) -> Story:
    """A scenario without what fails in it."""
    return replace(scenario.story, events=_kept(program, scenario.story.events))


def _kept(program: Program, events: Sequence[Event]) -> tuple[Event, ...]:
    failing = ("fault", "power", "stop", "free output")
    return tuple(event for event in events if program.knobs[event.key].kind not in failing)


@dataclass(frozen=True, slots=True)
class _Work:
    """The first stretch in which a story's run has left the safe state (ms)."""

    began: int
    until: int
    words: str
    story: Story


def _situation(program: Program, profile: Profile, eyes: Eyes, safe: Safe, work: _Work) -> Situation | None:
    """Running is a quarter into the first stretch of work, asked is at half of it; or after the settling time."""
    tick, began, story = profile.step, work.began, work.story
    stretch = min(work.until - began, 2 * (SETTLE_MS + DWELL_MS))
    asked = _down(began + min(SETTLE_MS + DWELL_MS, stretch // 2), tick)
    running = _down(max(began + tick, asked - min(DWELL_MS, stretch // 4)), tick)
    rest = _down(2 * profile.scan[1] + tick, tick)
    before = tuple(event for event in story.events if event.at_ms <= running)
    if rest >= began:
        rest = tick
    runs = ForkedRuns(program, eyes.told, story)
    mark = runs.to(running, [event for event in before if event.at_ms < running])
    later = [event for event in before if event.at_ms >= running]
    asked_mark = None if mark is None else runs.to(asked, later, mark)
    if mark is None or asked_mark is None:
        return None
    said = f"{work.words}, at work since {time_words(began)}"
    raw = Situation(
        said, safe, story, before, rest, running, asked, program, eyes.told, running=mark, asked=asked_mark, demands=()
    )
    return replace(raw, demands=tuple(_demands(program, profile, eyes, raw)))


def _down(ms: int, tick: int) -> int:
    return ms - ms % tick


# ------------------------------------------------------------------------- demands


def _demands(program: Program, profile: Profile, eyes: Eyes, situation: Situation) -> Iterator[Demand]:
    asked = situation.asked_ms
    for words, event in _acts(program, profile, situation):
        of_the_world = program.knobs[event.key].kind == "disturbance"
        for watch in (WATCH_MS, 10 * WATCH_MS, *((SLOW_WATCH_MS,) if of_the_world else ())):
            told = situation.runs.end(asked + watch, [event], situation.asked)
            idle = situation.runs.end(asked + watch, [], situation.asked)
            if told.cut or idle.cut:
                break
            at = eyes.safe(situation.safe, told).stays_from(True, asked)
            without = eyes.safe(situation.safe, idle).stays_from(True, asked)
            if at is None or at - asked > watch * 4 // 5:
                continue
            sooner = 2 * profile.scan[1]
            if without is None or at < without - sooner:
                took = at - asked
                late = None if without is None else without - asked
                yield Demand(words, event, took, late, max(min(WATCH_MS, watch), 4 * took), situation.safe, sooner)
            break


#: What people do to a device, by what is set of it: off, and on. `{}` is the device.
_BY_HAND = {
    "pressed": ("{} let go", "{} pressed"),
    "closed": ("guard {} opened", "guard {} shut"),
    "key_in": ("key taken out of {}", "key put into {}"),
    "left": ("left button of {} let go", "left button of {} pressed"),
    "right": ("right button of {} let go", "right button of {} pressed"),
    "reset": ("reset of {} let go", "reset of {} pressed"),
}


def by_hand(key: str, on: bool) -> str:
    """`S0 pressed`, `guard G1 opened`: what was done, by the key of what was set and its new value."""
    part, _, what = key.partition(".")
    said = _BY_HAND.get(what)
    return said[on].format(part) if said is not None else f"{key} {'on' if on else 'off'}"


def _acts(program: Program, profile: Profile, situation: Situation) -> Iterator[tuple[str, Event]]:
    """Every single thing that can be done at the moment of asking."""
    now = {key: knob.start for key, knob in program.knobs.items()}
    now |= {event.key: event.value for event in situation.before}
    at = situation.asked_ms
    for key, knob in program.knobs.items():
        if knob.kind == "operator" and knob.type == "bool":
            yield by_hand(key, not now[key]), Event(at, key, not now[key])
        elif knob.kind in ("operator", "disturbance") and knob.type != "bool":
            for value in dict.fromkeys(profile.assumed[key]):
                yield f"{key} at {rounded(value)}", Event(at, key, value)
        elif knob.kind == "disturbance":
            yield f"{key} {'off' if now[key] else 'on'}", Event(at, key, not now[key])
        elif knob.kind == "power":
            yield f"{key.partition('!')[0]} cut", Event(at, key, True)
        elif knob.kind == "stop":
            yield "controller stopped", Event(at, key, True)
