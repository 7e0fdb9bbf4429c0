"""A reservoir: liquid without a level."""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.plant.given import positive
from rungproof.plant.part import Clause, Given
from rungproof.plant.store import ADDITIVE_CLAUSE, Store, start_volume


class Reservoir(Store):
    """A vessel of which only the contents matter, not the level.

        reservoir cistern   holds 2000 L, starts at 1500 L
        reservoir canister  holds 25 L, additive 120 g/L

    Shows `volume` and `spilled` (L), and with an additive `concentration` (g/L). Starts full
    unless told otherwise. Equations: see `Store`. Source: balance of volume.
    """

    kind = "reservoir"
    clauses = (
        Clause("holds {capacity:L}", required=True),
        Clause("starts at {start:L}"),
        ADDITIVE_CLAUSE,
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        capacity = positive(given, "capacity")
        self.hold(capacity, start_volume(given, capacity))
