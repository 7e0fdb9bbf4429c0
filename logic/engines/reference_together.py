"""Many programs through one story in the reference engine at once, for mutants of one program.

While they all give the plant the same, the plant is the same for all of them: its look and its tick
are worked out once for those that share them. Nothing else is shared, so that each outcome is what
`ReferenceEngine.run` gives for that program alone; a test holds it to that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rungproof.logic.engines.contract import Outcome
from rungproof.logic.engines.reference import Run, watchers_of
from rungproof.logic.engines.reference_plant import Held, Machine, Values
from rungproof.logic.meaning.program import Plant, Program, Story, Tag
from rungproof.plant.operators import PLAIN


@dataclass(frozen=True, slots=True)
class Replay:
    """One program, what to watch, and up to when (ms)."""

    program: Program
    watch: frozenset[str]
    scenario: int | None
    until_ms: int


@dataclass
class _Shared:
    """What has been worked out at the present instant, by the identity of what it was made of.

    Everything that a key names is held by some machine until `forget`, so no identity is used twice.
    """

    looks: dict[int, dict[str, Any]] = field(default_factory=dict)
    driven: dict[tuple[int, int, tuple[Any, ...]], dict[str, Any]] = field(default_factory=dict)
    states: dict[tuple[int, tuple[Any, ...]], dict[str, Any]] = field(default_factory=dict)
    held: list[Any] = field(default_factory=list)

    def forget(self) -> None:
        self.looks.clear()
        self.driven.clear()
        self.states.clear()
        self.held.clear()


class _SharedMachine(Machine):
    """A machine whose plant is worked out once for all that stand where it stands."""

    def __init__(self, plant: Plant, tags: Mapping[str, Tag], start: dict[str, Any], shared: _Shared) -> None:
        super().__init__(plant, tags)
        self.state, self.shared = start, shared

    def look(self, env: Values) -> dict[str, Any]:
        found = self.shared.looks.get(id(self.state))
        if found is None:
            found = self.shared.looks[id(self.state)] = super().look(env)
            self.shared.held += [self.state, found]
        return found

    def tick(self, look: Values, env: Values, held: Mapping[str, Held]) -> None:
        shared = self.shared
        given = (id(self.plant), id(look), tuple(held.values()))
        drives = shared.driven.get(given)
        if drives is None:
            drives = shared.driven[given] = self.drives(look, env, held)
        key = (id(self.state), tuple(drives.items()))
        after = shared.states.get(key)
        if after is None:
            after = self.plant.assembly.tick(PLAIN, self.state, look, drives, env)
            shared.states[key] = after
        self.state = after


def run_together(replays: Sequence[Replay], story: Story) -> list[Outcome]:
    """Run one story through several programs whose plants have the same parts. Each stops at its own end.

    A run ends where it violates something that it watches, where an assumption breaks, at its
    `until_ms`, or with the story.
    """
    shared = _Shared()
    runs = [_run(replay, story, shared, replays[0].program) for replay in replays]
    going = list(zip(runs, replays, strict=True))
    t = 0
    while going:
        after, left = t, []
        for run, replay in going:
            at_scan = run.arrive(t)
            if (t > 0 and not run.observe(t, at_scan)) or _over(run, replay, t):
                continue
            left.append((run, replay))
        for run, _ in left:
            after = run.leave(t)
        shared.forget()
        going, t = left, after
    return [run.outcome() for run in runs]


def _run(replay: Replay, story: Story, shared: _Shared, first: Program) -> Run:
    program = replay.program
    run = Run(program, story, watchers_of(program, replay.watch), replay.scenario, False)
    if program.plant is not None and first.plant is not None and program.controller is not None:
        start = shared.looks.setdefault(0, first.plant.assembly.start())
        run.machine = _SharedMachine(program.plant, program.controller.tags, start, shared)
    return run


def _over(run: Run, replay: Replay, t: int) -> bool:
    if any(monitor.violated_at is not None for monitor in run.monitors):
        return True
    if t > 0 and t >= run.story.duration_ms:
        run.whole = True
        return True
    return t >= replay.until_ms
