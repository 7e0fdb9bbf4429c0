"""From counts to words: which verdict a requirement gets, and why, said plainly."""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.logic.checks.tally import Count
from rungproof.logic.checks.verdict import Verdict, Word
from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.meaning.program import Always, Never, Requirement, Story


@dataclass(frozen=True, slots=True)
class Violation:
    """A confirmed violation: its story, the story as text, its instant (ms), the scenario it came from."""

    story: Story
    text: str
    at: int
    scenario: str | None = None


def verdict_of(requirement: Requirement, count: Count, violation: Violation | None, trouble: str | None) -> Verdict:
    """The verdict. `trouble` is an internal error that leaves the requirement open."""
    if violation is not None:
        word, reason = _violated(violation)
    elif trouble is not None:
        word, reason = "undecided", trouble
    else:
        word, reason = word_of(requirement, count)
    return Verdict(
        requirement=requirement.name,
        sentence=requirement.sentence,
        restatement=requirement.restatement,
        word=word,
        looked_at=requirement.looked_at,
        fault_set="with any one fault" if requirement.any_one_fault else "no faults",
        outputs_free=requirement.outputs_free,
        reason=reason,
        triggers=count.triggers,
        runs=count.runs,
        simulated_ms=count.simulated_ms,
        violated_at=violation.at if violation else None,
        story_text=violation.text if violation else None,
        story=violation.story if violation else None,
        scenario=violation.scenario if violation else None,
    )


def _violated(violation: Violation) -> tuple[Word, str]:
    where = "by this story" if violation.scenario is None else f'by scenario "{violation.scenario}"'
    return "violated", f"violated {where} at {time_words(violation.at)}; the reference engine shows the same"


def word_of(requirement: Requirement, count: Count) -> tuple[Word, str]:
    """The word for a requirement that no run violated."""
    runs = many(count.runs, "run")
    if count.runs == 0:
        return "undecided", "no run watched it: the time was out before"
    if count.longest_ms == 0:
        return "vacuous", f"the assumptions leave nothing of any run: all {runs} were cut at their start"
    if count.long_enough == 0:
        needed, longest = span_words(requirement.horizon), span_words(count.longest_ms)
        return "undecided", f"it needs a run of {needed}, and the longest was {longest}: give the search more time"
    if count.triggers == 0:
        return "vacuous", f"its trigger never came in {runs}"
    if count.decided == 0:
        return "undecided", f"in each of {runs} that had its trigger something was still open at the end"
    looked = f"no violation in {runs}, {span_words(count.simulated_ms)} in all"
    if isinstance(requirement.form, Never | Always):
        return "simulated", looked
    return "simulated", f"{looked}; its trigger came {many(count.triggers, 'time')}"
