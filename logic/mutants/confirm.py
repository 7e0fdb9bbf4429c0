"""Kills replayed in the reference engine, those of one story together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rungproof.logic.engines.reference_together import Replay, run_together
from rungproof.logic.meaning.program import Story
from rungproof.logic.mutants.judge import Case, Judged, whole_program

#: More of one story are split, so that every process has its share.
MOST_TOGETHER = 12


@dataclass(frozen=True, slots=True)
class Stack:
    """Mutants killed by one story: their numbers, what is to be seen, and when (ms; None: at the end)."""

    story: Story
    numbers: tuple[int, ...]
    replays: tuple[Replay, ...]
    at: tuple[int | None, ...]


def stacks_of(case: Case, killed: Sequence[Judged]) -> Iterator[Stack]:
    """The kills by story, longest stories first, so that no process is left with one at the end."""
    groups: dict[tuple[Story, int | None], list[Judged]] = {}
    for judged in killed:
        assert judged.objection is not None
        whole = judged.objection.story if judged.attack is None else case.attacks[judged.attack].story
        scenario = None if judged.attack is None else case.attacks[judged.attack].scenario
        groups.setdefault((whole, scenario), []).append(judged)
    for (story, scenario), group in sorted(groups.items(), key=lambda item: -item[0][0].duration_ms):
        for place in range(0, len(group), MOST_TOGETHER):
            part = group[place : place + MOST_TOGETHER]
            yield Stack(
                story,
                tuple(judged.number for judged in part),
                tuple(_replay(case, judged, scenario) for judged in part),
                tuple(_instant(judged) for judged in part),
            )


def _replay(case: Case, judged: Judged, scenario: int | None) -> Replay:
    objection = judged.objection
    assert objection is not None
    watch = frozenset({objection.by}) if objection.scenario is None else frozenset[str]()
    asked = scenario if objection.scenario is not None else None
    return Replay(whole_program(case, judged), watch, asked, objection.at_ms)


def _instant(judged: Judged) -> int | None:
    objection = judged.objection
    assert objection is not None
    return objection.at_ms if objection.scenario is None else None


def confirmed(stack: Stack) -> list[int]:
    """The numbers of those of which the reference engine says the same as was found."""
    outcomes = run_together(stack.replays, stack.story)
    found = []
    for number, replay, at, outcome in zip(stack.numbers, stack.replays, stack.at, outcomes, strict=True):
        if at is None:
            seen = False in outcome.expectations
        else:
            seen = all(outcome.judgements[name].violated_at == at for name in replay.watch)
        if seen:
            found.append(number)
    return found
