"""From a run of a system that is bad to a story that people can read and the reference engine replays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.checks.passes import Bounds
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.shrink import Shrinker, ended_at
from rungproof.logic.checks.stories import is_proper, tidy
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.proofs.run import Run, completed, outage_ticks, story_of, with_short_outages
from rungproof.logic.proofs.system import System

#: Runs that shrinking a story may take: it is short already.
MOST_RUNS = 600

#: A story without power for more ticks than this is not replayed: every one of them takes its time.
MOST_OUTAGE_TICKS = 300_000


class TooLongError(Exception):
    """Raised where a run cannot be made short enough to replay it."""


@dataclass(frozen=True)
class Refutation:
    """A story that violates at `at` ms, as the reference engine confirmed; `raw` is it before it was shrunk."""

    story: Story
    at: int
    raw: Story


def refutation(program: Program, system: System, run: Run) -> Refutation | None:
    """The story of `run`, shrunk; None if the reference engine does not see it violate: an error of ours.

    Raises `TooLongError` for a run that is without power for too long to be replayed.
    """
    name = system.requirement
    run = with_short_outages(system, run)
    if outage_ticks(run) > MOST_OUTAGE_TICKS:
        raise TooLongError
    at: int | None = None
    for told in (run, completed(system, run)):
        raw = tidy(program, story_of(program, system, told))
        at = violated_at(reference_engine(), program, raw, name)
        if at is not None:
            break
    if at is None:
        return None
    raw = tidy(program, ended_at(raw, at))
    story = _shrunk(program, raw, name)
    confirmed = violated_at(reference_engine(), program, story, name)
    return Refutation(raw, at, raw) if confirmed is None else Refutation(story, confirmed, raw)


def _shrunk(program: Program, story: Story, name: str) -> Story:
    profile, engine = profile_of(program), fast_engine()
    shrinker = Shrinker(
        violates=lambda each: violated_at(engine, program, each, name),
        proper=partial(is_proper, program),
        tidy=partial(tidy, program),
        bounds=Bounds(profile.step, profile.scan, profile.knobs),
        best=story,
        limit_runs=MOST_RUNS,
    )
    return shrinker.shrink()
