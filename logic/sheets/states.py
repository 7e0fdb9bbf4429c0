"""The states of the machine from which causes are tried: found by running, in the project's own scenarios first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

import numpy as np
from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.story_text import story_tree
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Event, Program, Story

#: The machine is looked at so long after its start when nobody has touched anything (ms).
AT_REST_MS = 1000

#: At most so many states besides rest: a sheet that nobody reads to its end is no sheet.
MOST_STATES = 3

#: A state is taken so long after its last effect came on, or in the middle of its time if that is shorter (ms).
SETTLED_MS = 1000

#: Buttons pressed one after the other when no scenario gets the machine going: at, and for (ms).
PRESSES, HOLD_MS = (500, 1500), 300


@dataclass(frozen=True, slots=True)
class MachineState:
    """`story` leads there by `at_ms`; `source` says where it comes from; `on` are the effects that are on. `stood_ms`:
    so long they stand in that story from there on, with nobody touching anything."""

    name: str
    source: str
    story: Story
    at_ms: int
    on: tuple[str, ...]
    stood_ms: int = 0


def steps_to(program: Program, state: MachineState) -> tuple[str, ...]:
    """What a person does to bring the machine into a state, in the words of a scenario, by time."""
    lines = story_tree(program, replace(state.story, duration_ms=max(state.at_ms, 1)), "").lines
    told = [" ".join(to_text(line).split()) for line in lines if isinstance(line, tree.At | tree.ParameterLine)]
    return (*told, f"wait until {time_words(state.at_ms)} after the start")


def states_of(program: Program, effects: Iterable[str]) -> tuple[MachineState, ...]:
    """At rest, and states in which as much as possible is on: each adds something that no earlier one had on."""
    wanted = [key for key in effects if not _is_number(program, key)]
    rest = Story(AT_REST_MS)
    states = [
        MachineState("at rest", "nobody has touched anything", rest, AT_REST_MS, _on_at_end(program, rest, wanted))
    ]
    candidates = list(_candidates(program, _scenarios(program), wanted))
    if not any(set(each.on) - set(states[0].on) for each in candidates):
        candidates += _candidates(program, _presses(program), wanted)
    covered = set(states[0].on)
    while len(states) <= MOST_STATES:
        best = max(candidates, key=lambda each: _worth(each, covered), default=None)
        if best is None or not set(best.on) - covered:
            break
        covered |= set(best.on)
        states.append(replace(best, name=f"state {len(states)}"))
    return tuple(states)


def _worth(state: MachineState, covered: set[str]) -> tuple[int, int, int, int]:
    """What is new in it, what is on, how long it stands (whoever tests needs time), and how soon it comes."""
    return len(set(state.on) - covered), len(state.on), min(state.stood_ms, SETTLED_MS), -state.at_ms


def _is_number(program: Program, key: str) -> bool:
    tags = program.controller.tags if program.controller is not None else {}
    return key in tags and tags[key].type != "bool"


def _on_at_end(program: Program, story: Story, wanted: list[str]) -> tuple[str, ...]:
    final = fast_engine().run(program, story, watch=frozenset()).final
    return tuple(key for key in wanted if final.get(key) is True)


def _scenarios(program: Program) -> Iterator[tuple[str, Story]]:
    """The project's own scenarios, up to the first thing in them that is out of order."""
    for scenario in program.scenarios:
        story = scenario.story
        wrong = [
            event.at_ms
            for event in story.events
            if event.value is True and program.knobs[event.key].kind in ("fault", "power", "stop", "free output")
        ]
        end = min([story.duration_ms, *wrong])
        if end > 0:
            kept = tuple(event for event in story.events if event.at_ms < end)
            yield f'scenario "{scenario.name}"', replace(story, duration_ms=end, events=kept)


def _presses(program: Program) -> Iterator[tuple[str, Story]]:
    """Two things in turn, each touched for a moment."""
    hands = [knob for knob in program.knobs.values() if knob.kind in ("operator", "tag") and knob.type == "bool"]
    for pair in permutations(hands[:12], 2):
        events = []
        for at, knob in zip(PRESSES, pair, strict=True):
            events += [Event(at, knob.key, not knob.start), Event(at + HOLD_MS, knob.key, knob.start)]
        yield "buttons pressed in turn", Story(4000, tuple(events))


def _candidates(program: Program, stories: Iterable[tuple[str, Story]], wanted: list[str]) -> Iterator[MachineState]:
    """One state for every set of effects that stands for a while in a story."""
    for source, story in stories:
        trace = fast_engine().run(program, story, watch=frozenset(), record=True).trace
        if trace is None or not trace.times:
            continue
        columns = {**trace.tags, **trace.plant}
        on = np.asarray([columns[key] for key in wanted], dtype=bool)
        times = np.asarray(trace.times)
        edges = np.flatnonzero((on[:, 1:] != on[:, :-1]).any(axis=0)) + 1
        ends = [*edges, len(times)]
        for first, last in zip([0, *edges], ends, strict=True):
            held = tuple(key for key, each in zip(wanted, on[:, first], strict=True) if each)
            for start, end in _untouched(story, int(times[first]), int(times[last - 1])):
                at = start + min(SETTLED_MS, (end - start) // 2)
                at = int(times[int(np.searchsorted(times, at))])
                kept = tuple(event for event in story.events if event.at_ms <= at)
                yield MachineState(
                    "", source, replace(story, duration_ms=at, events=kept), at, held, stood_ms=max(end - at, 0)
                )


def _untouched(story: Story, first_ms: int, last_ms: int) -> Iterator[tuple[int, int]]:
    """The stretches between two times in which nobody touches anything: from a touch to just before the next."""
    touches = sorted({event.at_ms for event in story.events if first_ms < event.at_ms < last_ms})
    yield from pairwise([first_ms, *touches, last_ms])
