"""Rows of the table from what the runs say; the reference engine runs stories again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.engines.forked import Told
from rungproof.logic.faults.eyes import Eyes
from rungproof.logic.faults.judge import BAD, ORDER, Judged
from rungproof.logic.faults.result import FaultRow, Outcome
from rungproof.logic.faults.variants import Variant
from rungproof.logic.meaning.program import Program, Story

#: Plant ticks of stories that the reference engine runs again without being asked to.
REPLAY_TICKS = 6_000


class Rows:
    """Makes rows. `replay`: every story is run again, not only the worst as far as they are short."""

    def __init__(self, program: Program, eyes: Eyes, replay: bool) -> None:
        self.program, self.eyes, self.replay = program, eyes, replay
        self.left = REPLAY_TICKS
        self.known: dict[Story, bool] = {}

    def row(self, variant: Variant, judged: Judged, stands_for: Variant) -> FaultRow:
        shows, seen = judged.shows
        worst = judged.worst if judged.findings else None
        outcome: Outcome = "no effect" if worst is None else worst.outcome
        broken = tuple(dict.fromkeys(name for each in judged.findings for name in each.broken))
        hazards = tuple(dict.fromkeys(name for each in judged.findings for name in each.hazards))
        story = None if worst is None else _as(variant, stands_for, worst.told.story)
        return FaultRow(
            part=variant.part,
            fault=variant.fault,
            words=variant.words,
            comes=variant.comes,
            outcome=outcome,
            shows=shows,
            detected=None if seen is None else seen.what,
            detected_ms=None if seen is None else seen.after_ms,
            safe=tuple(judged.safe.values()),
            broken=broken,
            claimed=tuple(name for name in broken if self._claims(name, variant)),
            hazards=hazards,
            does="" if worst is None else worst.does,
            situation="" if worst is None else worst.situation,
            story="" if story is None else story_block(self.program, story, f"{variant.name}: {outcome}"),
            replayed=worst is not None and self._replays(worst.told, story or worst.told.story, outcome),
        )

    def pair(self, first: Variant, second: Variant, judged: Judged, alone: Mapping[str, FaultRow]) -> FaultRow | None:
        """The row of two faults; None where they are no worse than the worse of them alone."""
        singles = alone[first.name], alone[second.name]
        if not judged.findings or judged.worst.outcome not in BAD:
            return None
        row = self.row(second, judged, second)
        known = {name for each in singles for name in (*each.broken, *each.hazards)}
        worse = all(ORDER.index(row.outcome) < ORDER.index(each.outcome) for each in singles)
        if not (worse or set(row.broken) - known or set(row.hazards) - known):
            return None
        # Two faults are beyond what any requirement claims.
        return replace(row, words=f"{first.words}; then {second.words}", first=(first.part, first.fault), claimed=())

    def idle(self, variant: Variant) -> FaultRow:
        """A fault on which nothing in the model depends."""
        return FaultRow(
            variant.part, variant.fault, variant.words, variant.comes, "no effect", "never", None, None, (), (), (), (),
            "nothing in the model depends on it", "", "", False,
        )  # fmt: skip

    def _claims(self, name: str, variant: Variant) -> bool:
        """Whether a requirement says that it holds in spite of this: one fault, or power that comes and goes."""
        requirement = next(each for each in self.program.requirements if each.name == name)
        return requirement.any_one_fault or self.program.knobs[variant.key].kind == "power"

    def _replays(self, told: Told, story: Story, outcome: Outcome) -> bool:
        """Whether the reference engine was asked, and says the same; raises `AssertionError` if it says otherwise."""
        assert self.program.plant is not None
        if story in self.known:
            return self.known[story]
        ticks = story.duration_ms // self.program.plant.tick
        bad = outcome in BAD
        asked = self.replay or (bad and ticks <= self.left)
        if asked:
            self.left -= 0 if self.replay else ticks
            replay_same(self.program, self.eyes, told, story)
        self.known[story] = asked
        return asked


def replay_same(program: Program, eyes: Eyes, told: Told, story: Story) -> None:
    """The reference engine's run of `story` violates the same at the same times and ends as was told."""
    outcome = reference_engine().run(program, story)
    violated = {name: each.violated_at for name, each in outcome.judgements.items()}
    ended = tuple(outcome.final[name] for name in eyes.told)
    if violated != told.violated or ended != tuple(told.rows[-1][1:]):
        raise AssertionError(f"internal error: the engines differ in the story {story}")


def _as(variant: Variant, stands_for: Variant, story: Story) -> Story:
    """The story with this variant in place of the one that was run for its class."""
    if variant.key == stands_for.key:
        return story
    return replace(
        story,
        events=tuple(replace(e, key=variant.key) if e.key == stands_for.key else e for e in story.events),
    )
