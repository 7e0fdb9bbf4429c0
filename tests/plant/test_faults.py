"""Every named fault does something."""

from __future__ import annotations

from typing import Any

import pytest
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.operators import PLAIN

FAULTS = [(kind, fault.name) for kind, part in KINDS.items() for fault in part.faults]


def _course(assembly: Assembly, fault: str) -> list[dict[str, Any]]:
    """What is seen while everything is worked hard, then let go, then worked again, with a fault on from the start."""
    inputs = {**assembly.driven, **assembly.environment}
    operated = {key: (True if i.type == "bool" else i.high) for key, i in inputs.items() if "!" not in key}
    released = {key: (False if i.type == "bool" else i.low) for key, i in inputs.items() if "!" not in key}
    state, course = assembly.start(), []
    for phase in (operated, released, operated):
        env = {**phase, fault: True}
        for _ in range(120):
            look = assembly.look(PLAIN, state, env)
            course.append(look)
            state = assembly.tick(PLAIN, state, look, phase, env)
    return course


@pytest.mark.parametrize(("kind", "fault"), FAULTS)
def test_no_fault_is_dead(everything: Assembly, kind: str, fault: str) -> None:
    """With the fault on, what the part shows differs at some instant from what the healthy part shows."""
    healthy = _course(everything, "none!at_all")
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
