"""No violation is reported that the reference engine does not show at the same instant."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.logic.checks.engine_choice import name_of, reference_engine
from rungproof.logic.checks.shrink import ended_at
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
    return confirm_each(program, story, {requirement: at}, engine)[requirement]


def confirm_each(
    program: Program, story: Story, instants: Mapping[str, int], engine: Engine | None
) -> dict[str, Disagreement | None]:
    """`confirm` for several requirements that one story violates, by name: one run of the reference engine for all."""
    if engine is reference_engine() or not instants:
        return dict.fromkeys(instants)
    outcome = reference_engine().run(program, ended_at(story, max(instants.values())), watch=frozenset(instants))
    seen = {name: outcome.judgements[name].violated_at for name in instants}
    searched = name_of(engine)
    return {
        name: None if seen[name] == at else _disagreement(program, story, name, {searched: at, "reference": seen[name]})
        for name, at in instants.items()
    }


def _disagreement(program: Program, story: Story, requirement: str, instants: Mapping[str, int | None]) -> Disagreement:
    sees = ", ".join(f"the {engine} engine sees {requirement} {_seen(at)}" for engine, at in instants.items())
    ended = ended_at(story, max(at for at in instants.values() if at is not None))
    return Disagreement(
        requirement,
        f"internal error: {sees}; please report it with this bundle",
        bundle_of(program, ended, requirement, dict(instants)),
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
