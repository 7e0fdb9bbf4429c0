"""S5 and S6 on the branch chipper: no single fault defeats its stop, and a weld that shows refuses the next start.

Source: categories 3 and 4 of ISO 13849-1; mirror contacts of IEC 60947-4-1 Annex F (from memory).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand

CHIPPER = Path(__file__).parents[2] / "examples" / "branch_chipper"

#: Reset and start, and then the fault appears in the running machine.
RUNNING = [(100, "S3.pressed", 1), (300, "S3.pressed", 0), (1000, "S1.pressed", 1), (1200, "S1.pressed", 0)]
FAULT_MS, STOP_MS, OUT_MS, AGAIN_MS, END_MS = 3000, 4000, 8000, 9000, 14_000


@cache
def program() -> Program:
    understood = understand(CHIPPER).program
    assert understood is not None
    return understood


def faults() -> list[str]:
    """All but the head that cannot be pushed in: it makes no demand, and is single (ISO 13850 asks for its test)."""
    return [key for key, knob in program().knobs.items() if knob.kind == "fault" and key != "S0!seized"]


def story(*events: tuple[int, str, int], end: int = END_MS) -> Story:
    return Story(end, tuple(Event(at, key, bool(value)) for at, key, value in (*RUNNING, *events)))


@pytest.mark.parametrize("fault", faults())
def test_no_single_fault_defeats_the_stop(fault: str) -> None:
    """Whatever fails while the motor runs, 150 ms after the head has gone in the motor has no supply."""
    events = story((FAULT_MS, fault, 1), (STOP_MS, "S0.pressed", 1), end=STOP_MS + 500)
    trace = CompiledEngine().run(program(), events, watch=frozenset(), record=True).trace
    assert trace is not None
    energised = dict(zip(trace.times, trace.plant["M1.energised"], strict=True))
    assert energised[STOP_MS + 150] is False
    assert trace.plant["S0.operated"][-1] is True


def test_the_motor_ran_before_the_fault() -> None:
    """The story of these tests has something to stop."""
    trace = ReferenceEngine().run(program(), story(), watch=frozenset(), record=True).trace
    assert trace is not None
    assert trace.plant["M1.energised"][-1] is True


def _after_the_next_start(fault: str) -> tuple[bool, bool]:
    """Whether the module and the motor are on after stop, release, reset and start with a fault still there."""
    again = [(AGAIN_MS, "S3.pressed", 1), (AGAIN_MS + 200, "S3.pressed", 0)]
    again += [(AGAIN_MS + 1000, "S1.pressed", 1), (AGAIN_MS + 1200, "S1.pressed", 0)]
    events = story((FAULT_MS, fault, 1), (STOP_MS, "S0.pressed", 1), (OUT_MS, "S0.pressed", 0), *again)
    final = ReferenceEngine().run(program(), events, watch=frozenset()).final
    return bool(final["K9.on"]), bool(final["M1.energised"])


@pytest.mark.parametrize("fault", ["Q1!sticks", "Q2!sticks", "K9!relay_1_sticks", "K9!relay_2_sticks", "S0.1!welded"])
def test_what_shows_refuses_the_next_start(fault: str) -> None:
    """A welded contactor (read-back), a welded relay in the module and a channel that stays closed: no next start."""
    assert _after_the_next_start(fault) == (False, False)


@pytest.mark.parametrize("fault", ["Q1.main!welded", "Q2.main!welded"])
def test_a_weld_that_no_mirror_contact_shows_is_not_found(fault: str) -> None:
    """The limit of read-back: it starts again with one contactor left, so the contacts must be mirror contacts."""
    assert _after_the_next_start(fault) == (True, True)


def test_without_a_fault_the_next_start_works() -> None:
    """The refusals above come from the faults."""
    assert _after_the_next_start("P1!burnt_out") == (True, True)
