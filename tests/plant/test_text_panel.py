"""Text panels: one message at a time, the lowest number first, dark and stuck."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]

PANEL = 'text_panel D1 messages "Pump has failed" "Filling" "Full"'


def shown(run: Any) -> list[int]:
    return [n for n in (1, 2, 3) if run[f"D1.shows_{n}"]]


def test_of_several_messages_the_lowest_number_is_shown(run: Runs) -> None:
    """Nothing while none is asked for; a fault's message stands before that of the state; one tick later."""
    panel = run(PANEL)
    panel.tick()
    assert shown(panel) == []
    panel.drive["D1.message_3"] = True
    assert shown(panel) == []
    panel.tick()
    assert shown(panel) == [3]
    panel.drive["D1.message_1"] = True
    panel.tick()
    assert shown(panel) == [1]
    panel.drive = {}
    panel.tick()
    assert shown(panel) == []


def test_what_people_read_is_what_the_line_says(part: Callable[..., Part]) -> None:
    """Each output bears its message."""
    assert [each.says for each in part(PANEL).outputs] == ["Pump has failed", "Filling", "Full"]


@given(st.floats(0, 10))
def test_a_signal_names_the_nearest_message(run: Runs, volts: float) -> None:
    """0 V is none, 10 V the third: the number is the signal shared out evenly, to the nearest."""
    panel = run(f"{PANEL}, numbered by 0..10 V")
    panel.drive["D1.signal"] = volts
    panel.tick()
    exact = volts * 3 / 10
    if abs(exact % 1 - 0.5) > 1e-9:
        assert shown(panel) == ([round(exact)] if round(exact) else [])


def test_a_dark_panel_shows_nothing_and_a_stuck_one_the_same(run: Runs) -> None:
    """`stuck` keeps what was shown, `dark` hides it, and both go with their fault."""
    panel = run(PANEL)
    panel.drive["D1.message_2"] = True
    panel.tick()
    panel.env = {"D1!stuck": True}
    panel.drive = {"D1.message_1": True}
    panel.ticks(3)
    assert shown(panel) == [2]
    panel.env["D1!dark"] = True
    panel.tick()
    assert shown(panel) == []
    panel.env = {}
    panel.tick()
    assert shown(panel) == [1]


@pytest.mark.parametrize(
    ("messages", "words"),
    [
        ('""', "a message is empty"),
        ('"Full" "Full"', "stands there twice"),
        (f'"{"x" * 61}"', "does not fit"),
        (" ".join(f'"{n}"' for n in range(33)), "1 to 32 messages"),
    ],
)
def test_messages_that_nobody_could_read_are_refused(part: Callable[..., Part], messages: str, words: str) -> None:
    """Empty, twice, too long, too many."""
    with pytest.raises(PartError, match=words):
        part(f"text_panel D1 messages {messages}")


@pytest.mark.parametrize(("messages", "element"), [('"A" "" "B"', 1), ('"A" "B" "A"', 2), (f'"A" "{"x" * 61}"', 1)])
def test_of_several_messages_the_one_at_fault_is_pointed_at(
    part: Callable[..., Part], messages: str, element: int
) -> None:
    """Its place in the list, from 0: the caret goes there."""
    with pytest.raises(PartError) as refused:
        part(f"text_panel D1 messages {messages}")
    assert (refused.value.slot, refused.value.element) == ("messages", element)
