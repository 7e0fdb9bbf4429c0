"""The campaign reads what runs ended with from the search's own states."""

from __future__ import annotations

from pathlib import Path

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.coverage.campaign import campaign_of, most_useful
from rungproof.logic.coverage.instrument import instrument
from rungproof.logic.meaning.understand import understand

PRESS = Path(__file__).parents[3] / "examples" / "press_guard"


def test_every_story_reaches_what_it_is_said_to_reach() -> None:
    """With a plant, a timer and scenarios: the story is run again, and the latch is on."""
    program = understand(PRESS).program
    assert program is not None
    instrumented = instrument(program)
    campaign = campaign_of(instrumented, seed=1, time_s=0.5, unhurried=True)
    reached = [(name, reach) for name, reach in campaign.reached.items() if name in instrumented.latches]
    assert len(reached) > 20
    for name, reach in reached[::3]:
        assert fast_engine().run(instrumented.program, reach.story, watch=frozenset()).final[name] is True
    chosen = most_useful(campaign.stories, 60_000)
    assert 0 < len(chosen) < len(campaign.stories)
