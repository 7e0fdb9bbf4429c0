"""What defeats a layer: its minimal cut sets of one and of two failures.

A cut set is a set of failures with which the layer no longer brings the drive to its safe
state; minimal, if no smaller one is inside it. Found by trying them all on the switching.
Source of the term: fault tree analysis, IEC 61025 (from memory).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from rungproof.logic.safety.layers import Failure, Guarded, Layer

#: More pairs than this are not tried; the result says so.
MOST_PAIRS = 2500


@dataclass(frozen=True, slots=True)
class Cuts:
    """`works` is whether the layer works with nothing failed. `pairs_tried` of `pairs` were tried."""

    works: bool
    singles: tuple[Failure, ...]
    doubles: tuple[tuple[Failure, Failure], ...]
    pairs_tried: int
    pairs: int


def cuts_of(guarded: Guarded, layer: Layer) -> Cuts:
    """The minimal cut sets of a layer, up to two failures."""
    failures = guarded.failures(layer)
    if not guarded.works(layer, frozenset()):
        return Cuts(False, (), (), 0, 0)
    singles = [f for f in failures if not guarded.works(layer, frozenset({f.key}))]
    alone = {f.key for f in singles}
    left = [f for f in failures if f.key not in alone]
    pairs = [(a, b) for a, b in itertools.combinations(left, 2) if not _same_contact(a, b)]
    tried = pairs[:MOST_PAIRS]
    doubles = [(a, b) for a, b in tried if not guarded.works(layer, frozenset({a.key, b.key}))]
    return Cuts(True, tuple(singles), tuple(doubles), len(tried), len(pairs))


def _same_contact(a: Failure, b: Failure) -> bool:
    """One contact cannot be stuck both ways."""
    return a.element == b.element and "!" in a.key and "." in a.element
