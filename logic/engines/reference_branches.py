"""Many stories of one program in the reference engine: what they have in common is run once.

A table of faults tells one story hundreds of times, all alike until something fails. Where stories
part, the run is copied, and each goes on by itself: every outcome is what `ReferenceEngine.run`
gives for that story alone, and a test holds it to that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import replace
from itertools import takewhile

from rungproof.logic.engines.contract import Outcome
from rungproof.logic.engines.reference import Run, watchers_of
from rungproof.logic.meaning.program import Event, Program, Story

#: No event comes so late (ms).
_NEVER = 2**62


def run_branches(program: Program, stories: Sequence[Story], watch: frozenset[str] | None = None) -> list[Outcome]:
    """The outcome of every story, in order, without traces. Raises `ValueError` as the engine does."""
    alike: dict[tuple[object, ...], list[Story]] = {}
    ordered = [replace(story, events=tuple(sorted(story.events, key=lambda e: e.at_ms))) for story in stories]
    for story in dict.fromkeys(ordered):
        alike.setdefault((story.parameters, story.scans, story.seed, story.lane), []).append(story)
    found: dict[Story, Outcome] = {}
    for members in alike.values():
        run = Run(program, members[0], watchers_of(program, watch), None, False)
        for member in members[1:]:
            Run(program, member, [], None, False)  # a story that is none of the program is refused before anything runs
        found.update(_branch(run, 0, members, 0))
    return [found[story] for story in ordered]


def _branch(run: Run, t: int, members: Sequence[Story], past: int) -> Iterator[tuple[Story, Outcome]]:
    """The rest of `members`, all alike in their first `past` events and not yet at another; `run` stands before `t`."""
    going: int | None = t
    while True:
        run.story = members[0]
        run.environment.go_on_with(members[0])
        parts_at = min(_next_time(member, past) for member in members) if len(members) > 1 else None
        while going is not None and (parts_at is None or going < parts_at):
            going = run.instant(going)
        if going is None:
            break
        assert parts_at is not None
        *others, (past, members) = _parted(members, past, parts_at)
        for more, part in others:
            yield from _branch(_copied(run), going, part, more)
    for member in members:
        yield member, run.outcome()


def _next_time(story: Story, past: int) -> int:
    """When something next happens in it that others may not have in common: an event, or its end (ms)."""
    return min(max(story.duration_ms, 1), *(event.at_ms for event in story.events[past : past + 1]), _NEVER)


def _parted(members: Sequence[Story], past: int, at_ms: int) -> list[tuple[int, list[Story]]]:
    """Those that go on alike at `at_ms`, and in how many events; the most last. One that ends there stands alone."""
    parts: dict[tuple[Event, ...] | Story, tuple[int, list[Story]]] = {}
    for member in members:
        coming = tuple(takewhile(lambda event: event.at_ms <= at_ms, member.events[past:]))
        alike = member if member.duration_ms <= at_ms else coming
        parts.setdefault(alike, (past + len(coming), []))[1].append(member)
    return sorted(parts.values(), key=lambda part: len(part[1]))


def _copied(run: Run) -> Run:
    """The run as it stands; what no run ever changes is shared."""
    program, plant = run.program, run.program.plant
    fixed: list[object] = [program, program.controller, plant, *program.requirements, *program.assumptions]
    if plant is not None:
        fixed.append(plant.assembly)
    if program.controller is not None:
        fixed += [program.controller.tags, *program.controller.rungs, *program.controller.tags.values()]
    return deepcopy(run, {id(each): each for each in fixed})
