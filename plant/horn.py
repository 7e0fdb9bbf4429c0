"""A horn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Input, Output, Part, Variable


class Horn(Part):
    """Sounds while it is supplied.

        horn P1

    Input `supply`; shows `sounding`, one tick later. Source: common practice, no source.
    """

    kind = "horn"
    faults = (Fault("silent", "the horn does not sound"),)
    inputs = (Input("supply", "driven", "bool"),)
    variables = (Variable("sounding", "bool", False),)
    outputs = (Output("sounding", "bool"),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return {"sounding": ops.both(inputs["supply"], ops.inverse(faults["silent"]))}
