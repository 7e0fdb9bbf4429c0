"""Fuses, circuit breakers and common returns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Runs = Callable[..., Any]

CHAIN = """
    supply P24  24 V
    fuse F1     from P24
    breaker Q0  from F1, make contact, break contact
    common C0   from Q0
"""


@pytest.mark.parametrize(
    ("fault", "dead", "alive"),
    [
        ("P24!lost", ("P24", "F1", "Q0", "C0"), ()),
        ("F1!blown", ("F1", "Q0", "C0"), ("P24",)),
        ("Q0!releases", ("Q0", "C0"), ("P24", "F1")),
        ("C0!broken", ("C0",), ("P24", "F1", "Q0")),
    ],
)
def test_what_opens_takes_all_behind_it(run: Runs, fault: str, dead: tuple[str, ...], alive: tuple[str, ...]) -> None:
    """All is live at time 0; an opening kills what is fed through it, one tick a stage, and nothing before it."""
    chain = run(CHAIN)
    assert all(chain[f"{name}.live"] for name in ("P24", "F1", "Q0", "C0"))
    chain.env[fault] = True
    chain.ticks(20)
    assert {name: chain[f"{name}.live"] for name in dead + alive} == {
        **dict.fromkeys(dead, False),
        **dict.fromkeys(alive, True),
    }


def test_a_breaker_closes_by_hand_only(run: Runs) -> None:
    """Once released it stays open though the cause has gone, until the lever has been off and on again (trip-free)."""
    breaker = run("breaker Q1 make contact, break contact")
    breaker.env["Q1!releases"] = True
    breaker.tick()
    assert (breaker["Q1.main"], breaker["Q1.1"], breaker["Q1.2"]) == (False, False, True)
    breaker.env = {}
    breaker.ticks(1000)
    assert not breaker["Q1.on"]
    for lever, closed in ((False, False), (True, True), (False, False)):
        breaker.env = {"Q1.switched_on": lever}
        breaker.tick()
        assert breaker["Q1.main"] is closed
    breaker.env = {"Q1.switched_on": True}
    breaker.tick()
    breaker.env = {"Q1!seized": True, "Q1!releases": True, "Q1.switched_on": False}
    breaker.tick()
    assert breaker["Q1.main"]


def test_a_fuse_in_a_branch(run: Runs) -> None:
    """Without a supply of its own it is a contact: open once it has blown, closed when it has been replaced."""
    fuse = run("fuse F2")
    assert fuse["F2.1"]
    fuse.env["F2!blown"] = True
    fuse.tick()
    assert not fuse["F2.1"]
    fuse.env = {}
    fuse.tick()
    assert fuse["F2.1"]
