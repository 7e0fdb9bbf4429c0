"""The nearest miss: how far the closest instant of a run was from violating a requirement."""

from __future__ import annotations

import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.understand import understand_texts

TEXT = """controller "Near" every 10 ms

tags
    x     input   real cm 0..100
    a     input   bool
    b     input   bool
    low   memory  bool

rung low
    x < 50 cm
    => low

requirement R1 "x stays under 90 cm"
    always x < 90 cm

requirement R2 "with a on, x is between 10 cm and 80 cm"
    whenever a then x between 10 cm and 80 cm

requirement R3 "b answers a within 100 ms"
    whenever a then b within 100 ms

requirement R4 "nothing is compared"
    never low and b and a
"""


def near(*events: tuple[int, str, bool | float]) -> dict[str, float | None]:
    """The least margin of each requirement in a run of a second."""
    program = understand_texts({"near.rung": TEXT}).program
    assert program is not None
    story = Story(1000, (Event(0, "x", 60.0), *(Event(*each) for each in events)))
    (outcome,) = LanesEngine().run_many(program, [story], margins=frozenset(r.name for r in program.requirements))
    for name, judgement in CompiledEngine().run(program, story).judgements.items():
        assert judgement.violated_at == outcome.judgements[name].violated_at, "margins change no verdict"
    return {name: judgement.nearest for name, judgement in outcome.judgements.items()}


def test_a_number_comes_so_near_to_its_limit() -> None:
    """The least distance of the whole run, in the number's own unit."""
    assert near((300, "x", 87.5), (400, "x", 20.0))["R1"] == 2.5


def test_a_limit_counts_only_while_it_is_asked_for() -> None:
    """Of the two limits the nearer, and only at instants of the trigger."""
    assert near((300, "x", 79.0))["R2"] is None
    assert near((300, "x", 79.0), (500, "x", 14.0), (600, "a", True), (650, "b", True))["R2"] == 4.0


@pytest.mark.parametrize(("answer", "left"), [(240, 60.0), (290, 10.0)])
def test_an_answer_comes_so_long_before_its_time_is_up(answer: int, left: float) -> None:
    """What was left of the 100 ms when b came."""
    assert near((200, "a", True), (210, "a", False), (answer, "b", True))["R3"] == left


def test_where_nothing_is_compared_there_is_no_margin() -> None:
    """Truths alone are near to nothing."""
    assert near((100, "a", True))["R4"] is None
