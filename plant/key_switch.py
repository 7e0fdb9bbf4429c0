"""A key switch: a selector that only its key turns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Given, Input
from rungproof.plant.selector import Selector


class KeySwitch(Selector):
    """A selector with a lock; contact n is closed in position n and only there.

        key_switch S7  positions 2

    Inputs `turned_to` (1..n) and `key_in`, both a person's. It follows `turned_to` while the
    key is in, and stays where it is without. Shows `position`. Starts in position 1, key out.
    Source: mode selection by key, IEC 60204-1 9.2.3 (from memory).
    """

    kind = "key_switch"
    faults: ClassVar[tuple[Fault, ...]] = (
        *Selector.faults,
        Fault("turns_without_key", "the lock is worn: it turns without its key"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.inputs += (Input("key_in", "operator", "bool"),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        after = super().step(ops, state, inputs, faults)
        free = ops.either(inputs["key_in"], faults["turns_without_key"])
        return {**after, "position": ops.select(free, after["position"], state["position"])}
