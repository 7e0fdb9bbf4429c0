"""From a story that violates to the simplest one that the passes can find."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from rungproof.logic.checks.passes import PASSES, Bounds, Pass
from rungproof.logic.checks.simpler import sort_key
from rungproof.logic.meaning.program import Story

#: Runs a story; the first instant of violation in ms, None if there is none.
Violates = Callable[[Story], int | None]


@dataclass(slots=True)
class Shrinker:
    """The loop over the passes, to a fixpoint or to a limit.

    Invariant: `best` violates, and ends at its violation. A proposal becomes `best` only if
    it is proper, violates, and `sort_key` says it is simpler, so the loop ends. At the fixpoint no
    proposal of any pass is both: leaving out any one event loses the violation.
    `limit_runs` and `limit_ms` (simulated) bound the effort; `complete` says whether the
    fixpoint was reached.
    """

    violates: Violates
    proper: Callable[[Story], bool]
    tidy: Callable[[Story], Story]
    bounds: Bounds
    best: Story
    limit_runs: int = 3000
    limit_ms: int | None = None
    runs: int = 0
    simulated_ms: int = 0
    complete: bool = False
    tried: set[Story] = field(default_factory=set)

    def shrink(self, passes: tuple[Pass, ...] = PASSES) -> Story:
        """Run the passes until none of them helps. Returns `best`."""
        improved = True
        while improved and not self._spent():
            improved = False
            for each in passes:
                while not self._spent() and self._improve(each):
                    improved = True
        self.complete = not self._spent()
        return self.best

    def _improve(self, each: Pass) -> bool:
        for proposal in each(self.best, self.bounds):
            if self._spent():
                return False
            if self._accept(self.tidy(proposal)):
                return True
        return False

    def _accept(self, story: Story) -> bool:
        if story == self.best or story in self.tried or _hopeless(story, self.best):
            return False
        self.tried.add(story)
        if not self.proper(story):
            return False
        self.runs += 1
        at = self.violates(story)
        self.simulated_ms += story.duration_ms if at is None else at
        if at is None:
            return False
        ended = self.tidy(ended_at(story, at))
        if sort_key(ended) >= sort_key(self.best):
            return False
        self.best = ended
        return True

    def _spent(self) -> bool:
        return self.runs >= self.limit_runs or (self.limit_ms is not None and self.simulated_ms >= self.limit_ms)


def _hopeless(story: Story, best: Story) -> bool:
    """Whether no run can make the story simpler: its end is all that a run can change."""
    return sort_key(story)[:5] > sort_key(best)[:5]


def ended_at(story: Story, at: int) -> Story:
    """The story cut at its violation: what comes later plays no part."""
    return replace(story, duration_ms=at, events=tuple(event for event in story.events if event.at_ms <= at))
