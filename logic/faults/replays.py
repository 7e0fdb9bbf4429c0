"""The reference engine runs the stories of rows again, and must see what the table says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rungproof.logic.engines.forked import Told
from rungproof.logic.engines.reference_branches import run_branches
from rungproof.logic.faults.eyes import Eyes
from rungproof.logic.faults.judge import ORDER
from rungproof.logic.faults.result import Outcome
from rungproof.logic.meaning.program import Program, Story

#: Plant ticks after the fault that are run again without being asked for, and stories of one process at a time.
REPLAY_TICKS, AT_ONCE = 40_000, 16


@dataclass(frozen=True)
class Replay:
    """A story to run again: what was told of it when it ran, in the row's outcome; `after_ms` from its fault on."""

    story: Story
    told: Told
    outcome: Outcome
    after_ms: int


@dataclass(frozen=True)
class ReplayTask:
    """What one process runs again."""

    program: Program
    eyes: Eyes
    replays: tuple[Replay, ...]


def chosen(asked: Sequence[Replay], tick: int, *, every: bool) -> list[Replay]:
    """Which to run again: every one if asked for, else the worst first and of those the shortest, as far as they go."""
    known = {each.story: each for each in asked}
    ordered = sorted(known.values(), key=lambda each: (ORDER.index(each.outcome), each.after_ms))
    if every:
        return ordered
    left, found = REPLAY_TICKS * tick, []
    for each in ordered:
        if each.after_ms <= left:
            left -= each.after_ms
            found.append(each)
    return found


def in_batches(replays: Sequence[Replay], processes: int) -> Iterator[tuple[Replay, ...]]:
    """Parts of about equal work; stories that go long alike stand together, for what they share is run once."""
    size = max(1, min(AT_ONCE, -(-len(replays) // processes)))
    ordered = sorted(replays, key=lambda each: [(event.at_ms, event.key) for event in each.story.events])
    for at in range(0, len(ordered), size):
        yield tuple(ordered[at : at + size])


def replay_all(task: ReplayTask) -> int:
    """Run the stories again: each violates the same at the same times and ends as was told. Gives their number.

    Raises `AssertionError` where the engines differ.
    """
    outcomes = run_branches(task.program, [each.story for each in task.replays])
    for each, outcome in zip(task.replays, outcomes, strict=True):
        violated = {name: judged.violated_at for name, judged in outcome.judgements.items()}
        ended = tuple(outcome.final[name] for name in task.eyes.told)
        if violated != each.told.violated or ended != tuple(each.told.rows[-1][1:]):
            raise AssertionError(f"internal error: the engines differ in the story {each.story}")
    return len(task.replays)
