"""The shortest story found in which a mutant does something else than the original, as the machine sees it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.checks.passes import Bounds
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.shrink import Shrinker, ended_at
from rungproof.logic.checks.stories import is_proper, tidy
from rungproof.logic.engines.contract import Engine, Trace
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar

#: Runs and machine time (ms) that making a difference shorter may take; every run is made twice.
SHRINK_RUNS, SHRINK_MS = 120, 3_000_000
#: Machine time (ms) that is recorded row by row to look for a difference that is gone when the story ends.
MOST_ROWS_MS = 1_000_000
#: A longer story (ms) is not run in the reference engine, of either program.
MOST_REPLAYED_MS = 600_000
_NOTHING: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Difference:
    """At `at_ms` of `story` the original has `key` at `before`, the mutant at `after`.

    `replayed`: the reference engine says the same; a story too long for it is left to the fast one.
    """

    story: Story
    at_ms: int
    key: str
    before: Scalar
    after: Scalar
    replayed: bool = False


@dataclass
class Differ:
    """Two programs with the same knobs, compared at `outputs`, or, if None, at all that a machine shows."""

    original: Program
    mutant: Program
    engine: Engine = field(default_factory=fast_engine)
    outputs: frozenset[str] | None = None

    def shortest(self, stories: Sequence[Story]) -> Difference | None:
        """The difference of the shortest of `stories` that shows one, made shorter; None if none does."""
        spent = 0
        for story in sorted(dict.fromkeys(stories), key=lambda each: (each.duration_ms, len(each.events))):
            spent += story.duration_ms
            at = self._at(story) if spent <= MOST_ROWS_MS else self._at_end(story)
            if at is not None:
                return self._shrunk(ended_at(story, at))
        return None

    def first(self, story: Story, engine: Engine | None = None) -> Difference | None:
        """The first difference of one story, on the given engine (the fast one)."""
        one, other = (self._trace(program, story, engine) for program in (self.original, self.mutant))
        names = self.observed(one)
        for row, (before, after) in enumerate(zip(one.times, other.times, strict=False)):
            if before != after:
                return None
            for name in names:
                values = [(trace.plant if name in trace.plant else trace.tags)[name][row] for trace in (one, other)]
                if values[0] != values[1]:
                    return Difference(story, before, name, values[0], values[1])
        return None

    def observed(self, trace: Trace) -> list[str]:
        """What a machine shows: truths of the plant, outputs, then numbers; memory only where there is no output."""
        if self.outputs is not None:
            return sorted(self.outputs, key=lambda name: (not isinstance(trace.tags[name][0], bool), name))
        controller = self.original.controller
        tags = controller.tags.values() if controller is not None else ()
        outputs = [tag.name for tag in tags if tag.role == "output"]
        names = [*outputs, *trace.plant] if outputs or trace.plant else [*trace.tags]
        columns = {**trace.tags, **trace.plant}
        there = [name for name in names if columns.get(name)]
        return sorted(there, key=lambda name: not isinstance(columns[name][0], bool))

    # ------------------------------------------------------------------- one run

    def _trace(self, program: Program, story: Story, engine: Engine | None = None) -> Trace:
        trace = (engine or self.engine).run(program, story, watch=_NOTHING, record=True).trace
        assert trace is not None, "it was recorded"
        return trace

    def _at(self, story: Story) -> int | None:
        found = self.first(story)
        return None if found is None else found.at_ms

    def _at_end(self, story: Story) -> int | None:
        """The first difference of a long story that still differs when it ends."""
        finals = [self.engine.run(program, story, watch=_NOTHING).final for program in (self.original, self.mutant)]
        controller = self.original.controller
        memory = {tag.name for tag in controller.tags.values() if tag.role == "memory"} if controller else set()
        if all(finals[0][key] == finals[1].get(key) for key in finals[0] if key in finals[1] and key not in memory):
            return None
        return self._at(story)

    def _shrunk(self, story: Story) -> Difference | None:
        profile = profile_of(self.original)
        shrinker = Shrinker(
            violates=self._at,
            proper=partial(is_proper, self.original),
            tidy=partial(tidy, self.original),
            bounds=Bounds(profile.step, profile.scan, profile.knobs),
            best=tidy(self.original, story),
            limit_runs=SHRINK_RUNS,
            limit_ms=SHRINK_MS,
        )
        return self._replayed(self.first(shrinker.shrink()))

    def _replayed(self, found: Difference | None) -> Difference | None:
        """With the word of the reference engine on it; None, an error of ours, where that sees something else."""
        if found is None or found.story.duration_ms > MOST_REPLAYED_MS:
            return found
        again = self.first(found.story, reference_engine())
        return replace(found, replayed=True) if again == found else None
