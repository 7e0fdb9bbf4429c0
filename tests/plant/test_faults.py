"""Every named fault does something."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.operators import PLAIN

#: These show only in a course of their own: `test_sized_faults.py`, and for supplies tests/logic/engines.
ELSEWHERE = {
    ("float_switch", "late"),
    ("float_switch", "bouncing"),
    ("level_transmitter", "blanked"),
    ("pump", "runs_on"),
    ("supply", "sagging"),
}
FAULTS = [(k, f.name) for k, part in KINDS.items() for f in part.faults if (k, f.name) not in ELSEWHERE]


def _phases(assembly: Assembly) -> list[tuple[dict[str, Any], int]]:
    """What is done to the plant, and for how many ticks: everything, nothing, everything, and then of every
    part one input alone, and all but one with numbers at their lower ends."""
    inputs = {k: each for k, each in {**assembly.driven, **assembly.environment}.items() if "!" not in k}
    operated = {key: (True if i.type == "bool" else i.high) for key, i in inputs.items()}
    released = {key: (False if i.type == "bool" else i.low) for key, i in inputs.items()}
    low = {key: (True if i.type == "bool" else i.low) for key, i in inputs.items()}
    phases = [(operated, 120), (released, 120), (operated, 120), (low, 40)]
    truths: dict[str, list[str]] = {}
    for key, each in inputs.items():
        if each.type == "bool":
            truths.setdefault(key.partition(".")[0], []).append(key)
    for place in range(3):
        chosen = {own[place] for own in truths.values() if len(own) > place}
        phases.append(({key: (key in chosen) if i.type == "bool" else i.high for key, i in inputs.items()}, 40))
        phases.append((operated, 40))
        phases.append(({key: (key not in chosen) if i.type == "bool" else i.low for key, i in inputs.items()}, 40))
    return phases


def _course(assembly: Assembly, fault: str) -> list[dict[str, Any]]:
    """What is seen while all of that is done, with a fault on from the start."""
    state, course = assembly.start(), []
    for phase, ticks in _phases(assembly):
        env = {**phase, fault: True}
        for _ in range(ticks):
            look = assembly.look(PLAIN, state, env)
            course.append(look)
            state = assembly.tick(PLAIN, state, look, phase, env)
    return course


@cache
def _healthy(assembly: Assembly) -> list[dict[str, Any]]:
    return _course(assembly, "none!at_all")


@pytest.mark.parametrize(("kind", "fault"), FAULTS)
def test_no_fault_is_dead(everything: Assembly, kind: str, fault: str) -> None:
    """With the fault on, what the part shows differs at some instant from what the healthy part shows."""
    healthy = _healthy(everything)
    names = [part.name for part in everything.parts if part.kind == kind]
    for name in names:
        faulty = _course(everything, f"{name}!{fault}")
        own = [key for key in healthy[0] if key.startswith(f"{name}.")]
        if any(sound[key] != ill[key] for sound, ill in zip(healthy, faulty, strict=True) for key in own):
            return
    pytest.fail(f"no {kind} shows anything of its fault {fault}")


def test_every_contact_fault_shows(everything: Assembly) -> None:
    """A welded contact is closed and one that stays open is open, whatever the part does."""
    states = [dict(everything.start())]
    drive = {key: True for key, each in everything.driven.items() if each.type == "bool"}
    for _ in range(20):
        look = everything.look(PLAIN, states[-1], {})
        states.append(everything.tick(PLAIN, states[-1], look, drive, {"S1.pressed": True, "S0.pressed": True}))
    for state in (states[0], states[-1]):
        for contact in everything.contacts:
            assert everything.look(PLAIN, state, {f"{contact}!welded": True})[contact] is True
            assert everything.look(PLAIN, state, {f"{contact}!stays_open": True})[contact] is False
