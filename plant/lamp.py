"""A signal lamp."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Fault, Input, Output, Part, Variable


class Lamp(Part):
    """Lights while it is supplied.

        lamp H1

    Input `supply`; shows `lit`, one tick later. Source: common practice, no source.
    """

    kind = "lamp"
    faults = (Fault("burnt_out", "the lamp does not light"),)
    inputs = (Input("supply", "driven", "bool"),)
    variables = (Variable("lit", "bool", False),)
    outputs = (Output("lit", "bool"),)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return {"lit": ops.both(inputs["supply"], ops.inverse(faults["burnt_out"]))}
