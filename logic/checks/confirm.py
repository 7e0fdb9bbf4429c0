"""No violation is reported that the reference engine does not show at the same instant."""

from __future__ import annotations

from typing import Any

from rungproof.logic.checks.engine_choice import name_of, reference_engine
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.verdict import Disagreement
from rungproof.logic.checks.words import time_words
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.program import Program, Story


def violated_at(engine: Engine, program: Program, story: Story, requirement: str) -> int | None:
    """The first instant (ms) at which a story violates a requirement; None if it does not."""
    outcome = engine.run(program, story, watch=frozenset({requirement}), stop_at_violation=True)
    return outcome.judgements[requirement].violated_at


def confirm(program: Program, story: Story, requirement: str, at: int, engine: Engine | None) -> Disagreement | None:
    """None if the reference engine sees the violation at `at`; else what the two engines say."""
    if engine is reference_engine():
        return None
    confirmed = violated_at(reference_engine(), program, story, requirement)
    if confirmed == at:
        return None
    searched = name_of(engine)
    words = (
        f"internal error: the {searched} engine sees {requirement} {_seen(at)}, "
        f"the reference engine sees it {_seen(confirmed)}; please report it with this bundle"
    )
    return Disagreement(
        requirement, words, bundle_of(program, story, requirement, {searched: at, "reference": confirmed})
    )


def _seen(at: int | None) -> str:
    return "not violated" if at is None else f"violated at {time_words(at)}"


def bundle_of(program: Program, story: Story, requirement: str, answers: dict[str, int | None]) -> dict[str, Any]:
    """All that is needed to show a disagreement again. `answers`: instants (ms) by engine."""
    return {
        "files": {source.path: source.text for source in program.sources},
        "requirement": requirement,
        "story": story_block(program, story, "Two engines disagree", requirement),
        "violated_at_ms": answers,
    }
