"""A contact that stands in two places of the circuits, behind different things.

A contact has two terminals. Drawn twice it is still one piece of metal: where what lies
before it is not the same in both places, it joins two points that the drawing keeps apart,
and power finds its way round whatever stands between them. Source: circuits, textbook.
"""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import Condition, Plant
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.typed import Expression


@dataclass(frozen=True)
class _Place:
    """Where a contact stands: the supply, and the lines that power has passed before it."""

    supply: str
    before: tuple[Expression, ...]
    span: Span


def find_contacts_twice(plant: Plant, reporter: Reporter) -> None:
    """Report each contact once, at its second place."""
    first: dict[str, _Place] = {}
    told: set[str] = set()
    for circuit in plant.circuits:
        for rung in circuit.rungs:
            before: list[Expression] = []
            for element in rung.elements:
                if not isinstance(element, Condition):
                    continue
                for key in readings_of([element.expression]).plant:
                    here = _Place(circuit.supply, tuple(before), element.span)
                    there = first.setdefault(key, here)
                    if (there.supply, there.before) != (here.supply, here.before) and key not in told:
                        told.add(key)
                        reporter.report(
                            "contact-twice", here.span, contact=key, related=((there.span, "its other place"),)
                        )
                before.append(element.expression)
