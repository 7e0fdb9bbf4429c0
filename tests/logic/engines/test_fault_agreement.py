"""Every fault of two examples, one at a time: the compiled engine and the lanes do what the reference engine does."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand, understand_texts

EXAMPLES = Path(__file__).parents[3] / "examples"

#: What people do meanwhile, and a cut, so that what is retained can be lost. The press is reset by letting go.
DOINGS = {
    "press_guard": (("S3.pressed", True), ("S3.pressed", False), ("S1.pressed", True), ("S2.pressed", True)),
    "header_tank": (("S3.pressed", True), ("S1.pressed", True), ("S0.pressed", True)),
}


def _program(name: str) -> Program:
    program = understand(EXAMPLES / name).program
    assert program is not None
    return program


def _story(name: str, fault: str, came_ms: int, gone_ms: int) -> Story:
    pressed = [Event(40 + 40 * place, key, value) for place, (key, value) in enumerate(DOINGS[name])]
    cut = [Event(240, "controller!cut", True), Event(290, "controller!cut", False)]
    return Story(360, (*pressed, *cut, Event(came_ms, fault, True), Event(gone_ms, fault, False)))


@pytest.mark.parametrize("name", list(DOINGS))
def test_every_fault_runs_alike_on_all_engines(name: str) -> None:
    """It comes before anything has been pressed and goes before the end: the outcomes are equal to the last bit."""
    program = _program(name)
    faults = [key for key, knob in program.knobs.items() if knob.kind in ("fault", "stop")]
    stories = [_story(name, fault, 45 + 5 * (place % 9), 320) for place, fault in enumerate(faults)]
    defined = [ReferenceEngine().run(program, story) for story in stories]
    compiled = CompiledEngine()
    assert [compiled.run(program, story) for story in stories] == defined
    assert LanesEngine().run_many(program, stories) == defined


SMALL = """controller "Small" every 10 ms

tags
    button  input   bool
    count   memory  int 0..100  retained
    lit     output  bool        on stop off

rung count
    rising button
    => count := count + 1

rung lit
    button
    => lit

plant "Small" every 5 ms
    push_button S1  make contact
    push_button S2  make contact
    lamp P1
    relay K1        pulls in 10 ms, drops out 10 ms, make contact
    supply P24      24 V

circuit "Relay" from P24
    rung relay
        S2
        => K1

wiring
    controller from P24
    inputs X1 from P24
    outputs X2 from P24
    button  at X1:1  from S1
    lit     at X2:1  to P1
"""


@pytest.fixture(scope="module")
def small() -> Program:
    """A button that is counted and lights a lamp, and a relay by wire."""
    program = understand_texts({"small.rung": SMALL}).program
    assert program is not None
    return program


def _final(program: Program, duration_ms: int, *events: tuple[int, str, bool]) -> dict[str, object]:
    story = Story(duration_ms, tuple(Event(*each) for each in events))
    return dict(ReferenceEngine().run(program, story).final)


def test_a_hung_program_lets_its_outputs_stand(small: Program) -> None:
    """The lamp stays lit though the button is let go, until the power goes; then it is dark."""
    hung = ((100, "S1.pressed", True), (200, "controller!hung", True), (300, "S1.pressed", False))
    assert _final(small, 1000, *hung)["P1.lit"] is True
    assert _final(small, 1000, *hung, (600, "controller!cut", True))["P1.lit"] is False
    assert _final(small, 1000, *hung, (600, "controller!hung", False))["P1.lit"] is False


def test_an_overrunning_scan_takes_five_times_as_long(small: Program) -> None:
    """In a second there are a fifth of the scans."""
    for events, scans in (((), 100), ((Event(0, "controller!overrun", True),), 100 // OVERRUN)):
        assert abs(ReferenceEngine().run(small, Story(1000, events)).scans - scans) <= 1


def test_what_is_retained_outlives_a_cut_unless_its_memory_is_lost(small: Program) -> None:
    """The count stays, or starts anew."""
    counted = ((100, "S1.pressed", True), (300, "controller!cut", True), (400, "controller!cut", False))
    assert _final(small, 800, *counted)["count"] == 1
    assert _final(small, 800, *counted, (200, "controller!memory_lost", True))["count"] == 0


def test_on_a_sagging_supply_a_relay_holds_and_does_not_pull_in(small: Program) -> None:
    """What was pulled in before the voltage sags stays so while it is held; it does not come back."""
    held = ((100, "S2.pressed", True), (200, "P24!sagging", True))
    assert _final(small, 500, *held)["K1.pulled_in"] is True
    again = ((300, "S2.pressed", False), (400, "S2.pressed", True))
    assert _final(small, 800, *held, *again)["K1.pulled_in"] is False


@pytest.mark.parametrize(
    ("fault", "pressed", "lit"),
    [
        ("X1:1!wire_broken", True, False),
        ("X1:1!broken_at_part", True, False),
        ("X1:1!shorted_to_supply", False, True),
        ("X1:1!shorted_to_zero", True, False),
        ("X1:1!stays_on", False, True),
        ("X1:1!stays_off", True, False),
        ("X2:1!wire_broken", True, False),
        ("X2:1!broken_at_part", True, False),
        ("X2:1!shorted_to_supply", False, True),
        ("X2:1!shorted_to_zero", True, False),
        ("X2:1!stays_on", False, True),
        ("X2:1!stays_off", True, False),
    ],
)
def test_what_a_fault_between_part_and_program_does(small: Program, fault: str, pressed: bool, lit: bool) -> None:
    """Broken, shorted to 0 V or dead: off; shorted to the supply or stuck: on. On the way in and on the way out."""
    assert _final(small, 300, (100, "S1.pressed", pressed), (50, fault, True))["P1.lit"] is lit
