"""Long runs side by side: thousands of stories at once, of every scope, judged each by its own.

Each width is one piece of work for one process. Its stories are numbered long runs, apart from those
of the plan's tiers and of `--hours`; what hangs on the seed and the width alone replays by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rungproof.logic.checks.batch import BatchResult, unpacked
from rungproof.logic.checks.campaign import fault_of, long_story
from rungproof.logic.checks.compose import Shape
from rungproof.logic.checks.engine_choice import lanes_engine
from rungproof.logic.checks.plan import Group, Width
from rungproof.logic.checks.profile import Profile
from rungproof.logic.checks.stories import tidy
from rungproof.logic.engines.lanes import breaks_step
from rungproof.logic.meaning.program import Event, Program, Story

#: Numbers of the long runs of one width begin at its place times this; below stand those of tiers and hours.
APART = 1_000_000_000


@dataclass(frozen=True, slots=True)
class WideTask:
    """A width for another process: `program` is pickled. `place` numbers it; `watch` are the requirements to judge,
    `near` those of which the nearest miss is measured; `until` is the time (of `time.time()`) at which every run
    ends where it is."""

    program: bytes
    width: Width
    place: int
    watch: frozenset[str]
    near: frozenset[str]
    scenarios: tuple[Story, ...]
    seed: int
    until: float


def run_wide(task: WideTask) -> BatchResult:
    """Work off a width, here or in another process."""
    program, profile = unpacked(task.program)
    return work_off_wide(program, profile, task)


def work_off_wide(program: Program, profile: Profile, task: WideTask) -> BatchResult:
    """`run_wide` for a program at hand."""
    result = BatchResult()
    runs = list(_stories(program, profile, task))
    stories = [story for _, _, story in runs]
    engine, nothing = lanes_engine(), frozenset[str]()
    outcomes = engine.run_many(program, stories, watch=task.watch, shown=nothing, until=task.until, margins=task.near)
    watches = {group: group.watches(program) for group, _ in task.width.runs}
    for (number, group, story), outcome in zip(runs, outcomes, strict=True):
        judged = {name: each for name, each in outcome.judgements.items() if name in watches[group]}
        result.take(program, number, story, replace(outcome, judgements=judged))
    return result


def _stories(program: Program, profile: Profile, task: WideTask) -> Iterator[tuple[int, Group, Story]]:
    """Number, group and story of each run."""
    number = APART * (1 + task.place)
    interrupts = {key for key, knob in profile.knobs.items() if breaks_step(knob)}
    if task.width.steady:
        faults = tuple(fault for fault in profile.faults if fault not in interrupts)
        profile = replace(profile, powers=(), stops=(), faults=faults)
    for group, count in task.width.runs:
        for _ in range(count):
            number += 1
            fault = fault_of(profile, task.seed, number) if group.faulty else None
            shape = Shape(task.width.length_ms, fault, group.free)
            story = long_story(profile, task.scenarios, task.seed, number, shape)
            if task.width.steady:
                story = replace(story, events=tuple(e for e in story.events if e.key not in interrupts))
            yield number, group, tidy(program, _taken(profile, story) if group.free else story)


def _taken(profile: Profile, story: Story) -> Story:
    """The story with every output its own from the first instant on, each as it is when it is first taken over."""
    first = {event.key: event for event in reversed(story.events)}
    taken = [Event(0, key, first[key].value if key in first else profile.knobs[key].start) for key in profile.frees]
    return replace(story, events=(*taken, *story.events))
