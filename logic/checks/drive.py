"""Hypothesis drives short stories: it avoids repeats and climbs towards triggers."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

import hypothesis
from hypothesis import Phase
from hypothesis import strategies as st
from rungproof.logic.checks.compose import Shape, compose
from rungproof.logic.checks.draws import BitDraws
from rungproof.logic.checks.profile import Profile
from rungproof.logic.engines.contract import Outcome
from rungproof.logic.meaning.program import Story

#: More triggers than this in one run are no better.
_ENOUGH_TRIGGERS = 20


class _Over(BaseException):
    """Nothing more is to be tried. Hypothesis takes an `Exception` for a finding, and lets all else pass."""


def drive(
    profile: Profile,
    shape: Shape,
    *,
    seed: int,
    stories: int,
    run: Callable[[Story], Outcome | None],
    climb: frozenset[str],
) -> None:
    """Give up to `stories` stories to `run`. Same seed, same stories; nothing is written to disk.

    `climb` names the requirements whose triggers are sought. `run` gives None to end it early.
    """
    truths = st.booleans()

    @st.composite
    def composed(draw: st.DrawFn) -> Story:
        return compose(profile, BitDraws(lambda: draw(truths)), shape)

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=stories,
        database=None,
        deadline=None,
        derandomize=False,
        phases=[Phase.generate, Phase.target],
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    @hypothesis.given(composed())
    def attack(story: Story) -> None:
        outcome = run(story)
        if outcome is None:
            raise _Over
        for name in sorted(climb):
            hypothesis.target(float(min(outcome.judgements[name].triggers, _ENOUGH_TRIGGERS)), label=name)

    with suppress(_Over):
        attack()
