"""Invariants from exhaustive exploration: what a prover could at best find, by no prover's code."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from rungproof.logic.proofs.explicit import explore
from rungproof.logic.proofs.literals import Clause, Invariant, Literal
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, System
from rungproof.logic.steps.operators import Scalar

#: Outages tried: the presets in these tests are a few ms, and ages count no further than past them.
OUTAGES = [1, 2, 3, 5, 40]


def sliced(system: System, *also: str) -> System:
    """The system's cone of influence."""
    return System(
        system.step.slice([system.bad, *also]),
        system.requirement,
        system.tick,
        system.bad,
        system.triggered,
        system.free_starts & system.step.states.keys(),
    )


def reachable(system: System) -> tuple[list[dict[str, Scalar]], int | None]:
    """Every state of the cone, and the fewest scans (less one) to a violation."""
    cone = sliced(system)
    found = explore(cone.step, cone.bad, choices={OUTAGE_TICKS: OUTAGES}, free_starts=cone.free_starts)
    return found.table, found.depth


def candidates(rows: list[dict[str, Scalar]]) -> list[Literal]:
    """All literals about the variables of `rows`: bools, and bounds at every value that occurs."""
    found: list[Literal] = []
    for name, value in rows[0].items():
        if isinstance(value, bool):
            found.append(Literal(name))
        else:
            found += [Literal(name, int(each)) for each in sorted({row[name] for row in rows})]
    return [*found, *(-each for each in found)]


def strongest(rows: list[dict[str, Scalar]], most: int = 3) -> Invariant:
    """All clauses of at most `most` literals that are true of every row, without those that shorter ones imply."""
    literals = candidates(rows)
    truth = np.array([[each.true_in(row) for row in rows] for each in literals])
    clauses: list[Clause] = []
    kept: set[frozenset[int]] = set()
    for size in range(1, most + 1):
        for places in combinations(range(len(literals)), size):
            if any(frozenset(part) in kept for n in range(1, size) for part in combinations(places, n)):
                continue
            names = [literals[place].name for place in places]
            same = len(set(names)) < size
            if not same and truth[list(places)].any(axis=0).all():
                kept.add(frozenset(places))
                clauses.append(tuple(literals[place] for place in places))
    return Invariant(tuple(clauses))


__all__ = ["CUT", "OUTAGES", "candidates", "reachable", "sliced", "strongest"]
