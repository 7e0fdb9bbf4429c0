"""Stories in one canonical shape, so that equal ones are equal and short ones are short."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from rungproof.logic.meaning.program import Event, Knob, Program, Story
from rungproof.logic.meaning.typed import Scalar


def tidy(program: Program, story: Story) -> Story:
    """The same run, said shortest: events in order of time and knob, without those that change
    nothing; parameters at their start left out; trailing equal scan times said once.

    A free output keeps its first event whatever its value: with it the program stops driving it.
    """
    order = {key: place for place, key in enumerate(program.knobs)}
    parameters = tuple(
        (key, value)
        for key, value in sorted(dict(story.parameters).items(), key=lambda item: order.get(item[0], len(order)))
        if key not in program.knobs or not _same(value, program.knobs[key].start)
    )
    return replace(
        story,
        events=_effective(story.events, program.knobs, order),
        parameters=parameters,
        scans=_shortest_scans(program, story.scans),
    )


def _effective(events: Iterable[Event], knobs: Mapping[str, Knob], order: Mapping[str, int]) -> tuple[Event, ...]:
    last: dict[tuple[int, str], Event] = {(event.at_ms, event.key): event for event in events}
    ordered = sorted(last.values(), key=lambda event: (event.at_ms, order.get(event.key, len(order)), event.key))
    standing: dict[str, Scalar] = {key: knob.start for key, knob in knobs.items() if knob.kind != "free output"}
    kept = []
    for event in ordered:
        if event.key in standing and _same(standing[event.key], event.value):
            continue
        standing[event.key] = event.value
        kept.append(event)
    return tuple(kept)


def _same(a: Scalar, b: Scalar) -> bool:
    return a == b and isinstance(a, bool) == isinstance(b, bool)


def _shortest_scans(program: Program, scans: tuple[int, ...]) -> tuple[int, ...]:
    """The last scan time goes on, so repeats of it at the end say nothing."""
    if program.controller is None:
        return ()
    while len(scans) > 1 and scans[-1] == scans[-2]:
        scans = scans[:-1]
    return () if scans == (program.controller.scan_low,) else scans


def is_proper(program: Program, story: Story) -> bool:
    """Whether a story is one that anybody would accept as an argument.

    A cut or a stop before the first scan has ended is not: nothing has been read yet, and monitors
    would judge inputs that nobody has seen. A late start is the same as a story that begins late.
    """
    first = story.scans[0] if story.scans else program.controller.scan_low if program.controller else 0
    early = (event for event in story.events if event.value and event.at_ms <= first)
    return not any(_kind(program, event.key) in ("power", "stop") for event in early)


def faults_of(program: Program, story: Story) -> frozenset[str]:
    """The faults that a story sets at any time, by key; a stopped controller is one of them."""
    return frozenset(
        event.key for event in story.events if event.value and _kind(program, event.key) in ("fault", "stop")
    )


def frees_outputs(program: Program, story: Story) -> bool:
    """Whether a story drives terminals in the program's place."""
    return any(_kind(program, event.key) == "free output" for event in story.events)


def _kind(program: Program, key: str) -> str:
    knob = program.knobs.get(key)
    return knob.kind if knob else ""
