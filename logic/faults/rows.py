"""Rows of the table from what the runs say."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from rungproof.logic.checks.story_text import story_block
from rungproof.logic.engines.forked import Told
from rungproof.logic.faults.judge import BAD, ORDER, Judged
from rungproof.logic.faults.replays import Replay
from rungproof.logic.faults.result import FaultRow, Outcome
from rungproof.logic.faults.variants import Variant
from rungproof.logic.meaning.program import Program, Story


class Rows:
    """Makes rows. `replays` are their stories, by the text that stands in the row."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.replays: dict[str, Replay] = {}

    def row(self, variant: Variant, judged: Judged, stands_for: Variant) -> FaultRow:
        shows, seen = judged.shows
        worst = judged.worst if judged.findings else None
        outcome: Outcome = "no effect" if worst is None else worst.outcome
        broken = tuple(dict.fromkeys(name for each in judged.findings for name in each.broken))
        hazards = tuple(dict.fromkeys(name for each in judged.findings for name in each.hazards))
        text = ""
        if worst is not None:
            story = _as(variant, stands_for, worst.told.story)
            text = story_block(self.program, story, f"{variant.name}: {outcome}")
            self.replays[text] = self._to_replay(worst.told, story, outcome, variant.key)
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
            story=text,
            replayed=False,
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

    def told(self, row: FaultRow, same: Collection[Story]) -> FaultRow:
        """The row with whether the reference engine ran its story to the same end."""
        return replace(row, replayed=bool(row.story) and self.replays[row.story].story in same)

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

    def _to_replay(self, told: Told, story: Story, outcome: Outcome, key: str) -> Replay:
        came = next((event.at_ms for event in story.events if event.key == key), 0)
        return Replay(story, told, outcome, story.duration_ms - came)


def _as(variant: Variant, stands_for: Variant, story: Story) -> Story:
    """The story with this variant in place of the one that was run for its class."""
    if variant.key == stands_for.key:
        return story
    return replace(
        story,
        events=tuple(replace(e, key=variant.key) if e.key == stands_for.key else e for e in story.events),
    )
