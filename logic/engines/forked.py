"""Runs of the compiled engine that are broken off and gone on with in many ways.

A table of faults runs one story hundreds of times, and each time all is as before until something
fails. So the story is run up to there once, and every run begins from what it left behind. What
comes out is the same to the last bit as the story run whole; a test says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from rungproof.logic.engines.chance import uniform
from rungproof.logic.engines.compiled import compiled_function, initial_values, run_events, story_lengths
from rungproof.logic.engines.compiled_loop import write_run
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import Shape, plan_run

#: A row: the time (ms), and what is told from then on, until the next row.
Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A run broken off at `at_ms`, before anything of that instant has happened. `rows` are told so far,
    `events` are those of the story up to there, `pending` those that are still to come, `at_ms` included."""

    at_ms: int
    environment: tuple[Scalar, ...]
    carried: tuple[Any, ...]
    rows: tuple[Row, ...]
    events: tuple[Event, ...]
    pending: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A run's end: the whole story, what was told, when each requirement was first violated (None: never),
    whether an assumption cut it, and every tag and truth at its last instant."""

    story: Story
    rows: tuple[Row, ...]
    violated: dict[str, int | None]
    cut: bool
    ended_ms: int
    final: dict[str, Scalar]


class ForkedRuns:
    """Runs of one program that tell `told`: names of tags and of the plant's truth. All start as `base` does:
    its parameters, scans, seed and lane hold for all of them. A program without a plant has none."""

    def __init__(self, program: Program, told: Sequence[str], base: Story) -> None:
        assert program.plant is not None, "faults need a plant"
        self.program, self.told, self.base, self.tick = program, tuple(told), base, program.plant.tick
        watch = frozenset(requirement.name for requirement in program.requirements)
        moving = frozenset(key for key, knob in program.knobs.items() if knob.kind != "free output")
        shape = Shape(watch, None, moving, frozenset(), False, False, self.told, forks=True)
        self._plan = plan_run(lower_program(program), shape)
        self._run = compiled_function(write_run(self._plan, shape))

    def to(self, at_ms: int, events: Sequence[Event], mark: Mark | None = None) -> Mark | None:
        """Go on from `mark` (from the start, if None) with `events`, up to `at_ms`, a multiple of the tick.

        None where an assumption breaks before. Events from then on stay pending; none of `events` may
        lie before the mark's time.
        """
        before, coming = _joined(mark, events)
        found, rows, environment = self._go(mark, coming, at_ms + self.tick, at_ms)
        if len(found) == _END:
            return None
        done = tuple(event for event in coming if event.at_ms < at_ms)
        return Mark(at_ms, tuple(environment), found, rows, (*before, *done), coming[len(done) :])

    def end(self, until_ms: int, events: Sequence[Event], mark: Mark | None = None) -> Told:
        """Go on from `mark` with `events`, to the end."""
        before, coming = _joined(mark, events)
        found, rows, _ = self._go(mark, coming, until_ms, -1)
        _, broken, ended, _, judged, _, tags, look = found
        base = self.base
        story = Story(until_ms, (*before, *coming), base.parameters, base.scans, base.seed, base.lane)
        names = [monitor.name for monitor in self._plan.requirements]
        violated = {name: bad for name, (bad, _, _) in zip(names, judged, strict=True)}
        final = dict(zip([*self._plan.tags, *self._plan.look], (*tags, *look), strict=True))
        return Told(story, rows, violated, broken is not None, ended, final)

    def _go(
        self, mark: Mark | None, events: tuple[Event, ...], duration: int, fork_at: int
    ) -> tuple[tuple[Any, ...], tuple[Row, ...], list[Scalar]]:
        story = Story(duration, events, self.base.parameters)
        rows: list[Row] = list(mark.rows) if mark else []
        environment = list(mark.environment) if mark else initial_values(self.program, story, self._plan)
        carried = mark.carried if mark else None
        coming = run_events(self.program, story, self._plan)
        lengths = self._lengths(0 if carried is None else int(carried[1]))
        found = self._run(environment, coming, lengths, duration, self._draws(), rows, [], carried, fork_at)
        return found, tuple(rows), environment

    def _lengths(self, begun: int) -> Iterator[int]:
        return islice(story_lengths(self.program, self.base), begun, None)

    def _draws(self) -> Callable[[int, int], float]:
        seed, lane = self.base.seed, self.base.lane

        def draw(stream: int, index: int) -> float:
            return uniform(seed, lane, stream, index)

        return draw


def _joined(mark: Mark | None, events: Sequence[Event]) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    """The events that have been, and those to come, in order of time."""
    pending = mark.pending if mark is not None else ()
    coming = tuple(sorted((*pending, *events), key=lambda event: event.at_ms))
    return (mark.events if mark is not None else ()), coming


#: How many things a run that has ended gives back; what it carries is always more.
_END = 8
