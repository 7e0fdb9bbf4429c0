"""How much is run, and how that is decided."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.checks.plan import Group, groups_of, lengths_of, plan_of
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.meaning.program import Program

PLAIN, FAULTY, FREE = Group(False, False), Group(True, False), Group(False, True)


def test_groups_are_those_that_requirements_ask_for(kettle: Program, barrel: Program) -> None:
    """Faults and free outputs occur only where a requirement says so."""
    assert groups_of(kettle) == (PLAIN,)
    assert groups_of(barrel) == (PLAIN, FREE, FAULTY)


def test_a_group_speaks_only_of_what_allows_for_it(barrel: Program) -> None:
    """Plain runs speak of every requirement, the others of those that name their scope."""
    assert PLAIN.watches(barrel) == {"R1", "R2", "R3"}
    assert FAULTY.watches(barrel) == {"R2"}
    assert FREE.watches(barrel) == {"R1"}


def test_the_times_that_matter_come_from_the_text(kettle: Program, barrel: Program) -> None:
    """Presets, times of requirements, delays of parts, and how long it takes to fill the barrel."""
    assert profile_of(kettle).times == (60,)
    filling = round(0.25 * 3.141592653589793 * 10 * 10 * 50 / 1000 * 60_000 / 60)
    assert profile_of(barrel).times == (10, 20, 50, 200, 500, filling)


def test_some_runs_outlast_every_requirement(barrel: Program) -> None:
    """For each time there is a length beyond it."""
    profile = profile_of(barrel)
    longest = max(length for lengths in lengths_of(barrel, profile) for length in lengths)
    assert longest > 2 * max(profile.times)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 200))
def test_more_time_plans_more_and_the_plan_fits_the_time(barrel: Program, time_s: float) -> None:
    """Two processes work the plan off in the time given, and twice the time never plans less of it."""
    profile = profile_of(barrel)
    plan = plan_of(barrel, profile, time_s=time_s, engine="compiled")
    longer = plan_of(barrel, profile, time_s=2 * time_s, engine="compiled")
    assert plan.seconds <= longer.seconds
    assert plan.seconds <= 2 * time_s or all(tier.runs == 1 for tier in plan.tiers)


def test_a_slow_engine_plans_less(barrel: Program) -> None:
    """The plan knows that the reference engine is slow."""
    profile = profile_of(barrel)
    slow = plan_of(barrel, profile, time_s=10, engine="reference")
    assert slow.runs < plan_of(barrel, profile, time_s=10, engine="compiled").runs
