"""The press's two palm buttons: one wire that comes and goes starts no stroke, and why each brings two contacts.

Source: two-hand control, ISO 13851: both within half a second, again only after both were let go (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand, understand_texts

PRESS = Path(__file__).parents[2] / "examples" / "press_guard"

#: A stroke with both hands; the left button stays down for good (tied), the right hand goes.
TIED = [(100, "S3.pressed", 1), (200, "S3.pressed", 0), (1000, "S1.pressed", 1), (1000, "S2.pressed", 1)]
LET_GO_MS, BROKEN_MS, TAPPED_MS = 2000, 3000, 4000


@cache
def press(*replacements: tuple[str, str]) -> Program:
    """The press, with its rungs changed in places."""
    texts = {path.name: path.read_text() for path in PRESS.glob("*.rung")}
    for old, new in replacements:
        assert old in texts["controller.rung"]
        texts["controller.rung"] = texts["controller.rung"].replace(old, new)
    program = understand_texts({"requirements.rung": texts.pop("requirements.rung"), **texts}).program
    assert program is not None
    return program


def single_contacts() -> Program:
    """The press as it would be with one contact a button."""
    return press(
        ("    left_off\n    right_off\n    => set fresh", "    => set fresh"),
        (" or not left_off or not right_off", ""),
        ("    not left_off\n", ""),
        ("    not right_off\n", ""),
    )


def tied(fault: str, back_ms: int) -> Story:
    """The left button tied down, the right one let go, a wire off, the right button tapped, the wire back."""
    events = [*TIED, (LET_GO_MS, "S2.pressed", 0), (BROKEN_MS, fault, 1), (TAPPED_MS, "S2.pressed", 1)]
    told = sorted([*events, (back_ms, fault, 0)])
    return Story(6000, tuple(Event(at, key, bool(value)) for at, key, value in told))


def strokes(program: Program, story: Story) -> int:
    """How often the valve is energised in a story."""
    trace = CompiledEngine().run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None
    shown = [bool(each) for each in trace.plant["PR1.energised"]]
    return sum(now and not before for before, now in pairwise(shown))


def wires_of_the_left_button() -> list[str]:
    program = understand(PRESS).program
    assert program is not None
    places = ("X1:1", "X1:7", "S1.1", "S1.2", "S1.3")
    return [k for k, knob in program.knobs.items() if knob.kind == "fault" and k.partition("!")[0] in places]


@pytest.mark.parametrize("fault", wires_of_the_left_button())
@pytest.mark.parametrize("back_ms", [3900, 4100, 4400, 4600])
def test_one_hand_starts_nothing_whatever_comes_off_at_the_tied_button(fault: str, back_ms: int) -> None:
    """A wire, a terminal or a contact of the tied button fails and comes back before or after the tap."""
    assert strokes(press(), tied(fault, back_ms)) == 1


@pytest.mark.parametrize("engine", [CompiledEngine, ReferenceEngine])
def test_with_one_contact_a_button_a_wire_that_comes_back_starts_a_stroke(
    engine: Callable[[], CompiledEngine | ReferenceEngine],
) -> None:
    """What the second contacts are for: without them a wire that is off looks like a hand that was let go."""
    final = engine().run(single_contacts(), tied("X1:1!wire_broken", 4400), watch=frozenset()).final
    assert strokes(single_contacts(), tied("X1:1!wire_broken", 4400)) == 2
    assert final["fresh"] is False


def test_two_hands_start_a_second_stroke() -> None:
    """The press is not merely dead: let go and pressed again, both in time, it makes another stroke."""
    again = [
        (LET_GO_MS, "S1.pressed", 0),
        (LET_GO_MS, "S2.pressed", 0),
        (3000, "S1.pressed", 1),
        (3200, "S2.pressed", 1),
    ]
    story = Story(4000, tuple(Event(at, key, bool(value)) for at, key, value in [*TIED, *again]))
    assert strokes(press(), story) == 2
