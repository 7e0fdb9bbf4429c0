"""Stories of what the prover refutes: short ones, whatever pauses the solver chose."""

from __future__ import annotations

import pytest
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.refute import MOST_OUTAGE_TICKS, TooLongError, refutation
from rungproof.logic.proofs.run import Run, first_bad, outage_ticks, with_short_outages
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, SCAN_TICKS, System, requirement_system

TEXT = """controller "Lamp" every 10..50 ms

tags
    eye   input   bool
    lamp  output  bool  on stop off

rung lamp
    eye
    on-delay 200 ms as hold
    => lamp

requirement R1 "The lamp comes within 300 ms"
    whenever rising eye then lamp within 300 ms

requirement R2 "The lamp is never dark for twenty minutes"
    whenever not lamp then lamp within 20 min
"""


def program() -> Program:
    found = understand_texts({"lamp.rung": TEXT}).program
    assert found is not None
    return found


def system_of(name: str) -> System:
    known = program()
    return requirement_system(known, next(each for each in known.requirements if each.name == name))


def run_with_a_pause(ticks: int) -> Run:
    """The eye comes on, and at the end of that scan power goes for so many ticks; then one scan more."""
    dark = {"eye": False, SCAN_TICKS: 10, CUT: False}
    lit = {"eye": True, SCAN_TICKS: 10, CUT: False}
    return Run({}, (dark, lit, {**lit, CUT: True, OUTAGE_TICKS: ticks}, lit, lit))


def test_a_pause_of_weeks_becomes_one_of_a_second() -> None:
    """A pause is no longer than the violation needs, to a power of ten, and the story replays."""
    system = system_of("R1")
    long = run_with_a_pause(1_000_000_000)
    assert first_bad(system, long) is not None
    short = with_short_outages(system, long)
    assert first_bad(system, short) is not None
    assert outage_ticks(short) <= 1_000 + 4
    shown = refutation(program(), system, long)
    assert shown is not None
    assert shown.story.duration_ms < 1_000


def test_a_violation_that_needs_a_long_pause_is_not_replayed_for_ever() -> None:
    """Where no short pause will do, it is said, and nothing is replayed."""
    system = system_of("R2")
    long = run_with_a_pause(1_000_000_000)
    assert first_bad(system, long) is not None
    assert outage_ticks(with_short_outages(system, long)) > MOST_OUTAGE_TICKS
    with pytest.raises(TooLongError):
        refutation(program(), system, long)


WAY_DOWN = """controller "Difference" every 10 ms

tags
    here   input   real V -10..10
    there  input   real V -10..10
    above  memory  bool

rung above
    (here - there) > 0 V
    => above

requirement R1 "Never above, so far down"
    never above and here < 1 V
"""


def test_an_input_that_a_run_leaves_out_stands_at_the_low_end_in_its_story_too() -> None:
    """What breaks it has `there` at -10 V, and says nothing of it: in the story it would stand at 0 V."""
    found = understand_texts({"difference.rung": WAY_DOWN}).program
    assert found is not None
    (requirement,) = found.requirements
    system = requirement_system(found, requirement)
    run = Run({}, ({"here": -9.5, CUT: False},))
    assert first_bad(system, run) == 0
    shown = refutation(found, system, run)
    assert shown is not None
    assert shown.at == 10
