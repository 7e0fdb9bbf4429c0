"""No part branches on a value: every part runs on values that refuse to be looked into."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.operators import PLAIN
from rungproof.plant.rehearsal import Sealed, SealedOps, opened


def _seal(values: dict[str, Any]) -> dict[str, Any]:
    return {key: Sealed(value) for key, value in values.items()}


def _any(each: Any, draw: Any) -> Any:
    if each.type == "bool":
        return draw(st.booleans())
    return draw(st.integers(each.low, each.high) if each.type == "int" else st.floats(each.low, each.high))


def test_the_plant_of_these_tests_holds_every_kind(everything: Assembly) -> None:
    """A new kind of part must be added to EVERYTHING, or these tests would pass it by."""
    assert {part.kind for part in everything.parts} == set(KINDS)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_every_part_gives_the_same_bits_on_sealed_values(everything: Assembly, data: st.DataObject) -> None:
    """Any state, inputs and faults: looking and ticking need no look into a value, and change none by it."""
    state = {key: _any(each, data.draw) for key, each in everything.variables.items()}
    drive = {key: _any(each, data.draw) for key, each in everything.driven.items()}
    env = {key: _any(each, data.draw) for key, each in everything.environment.items()}
    look = everything.look(PLAIN, state, env)
    after = everything.tick(PLAIN, state, look, drive, env)
    sealed: Any = SealedOps()
    sealed_look = everything.look(sealed, _seal(state), _seal(env))
    sealed_after = everything.tick(sealed, _seal(state), sealed_look, _seal(drive), _seal(env))
    for plain_values, sealed_values in ((look, sealed_look), (after, sealed_after)):
        assert plain_values.keys() == sealed_values.keys()
        for key, value in plain_values.items():
            bare = opened(sealed_values[key])
            assert (type(bare), repr(bare)) == (type(value), repr(value)), key


def test_sealed_values_are_sealed() -> None:
    """The check can fail: a part that branches on a value is caught."""
    for look_into in (bool, float, int, abs, lambda v: v == 1, lambda v: v / 2, lambda v: [0, 1][v], hash):
        with pytest.raises(TypeError):
            look_into(Sealed(1.0))
