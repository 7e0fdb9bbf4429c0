"""Which wire of a rung has power when: what a drawing's wires carry, worked out from its contacts.

Net 0 is the left rail. Every element makes a net behind it, every joint of branches one more.
The engine knows the power behind each line; a drawing also has wires inside a line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

RAIL = 0


@dataclass(slots=True)
class Nets:
    """The nets of one rung, in an order in which each is worked out from earlier ones.

    `ways[n]` says where the power of net n comes from: `("rail",)`, `("through", before, element)`
    for what an element lets pass, `("any", nets)` for a joint, `("made", element)` behind a stage,
    whose output its memory decides. `line_ends` are the nets of the engine's own record: the left
    rail, behind each line, at each output.
    """

    ways: list[tuple[object, ...]] = field(default_factory=lambda: [("rail",)])
    line_ends: list[int] = field(default_factory=lambda: [RAIL])

    def through(self, before: int, element: int) -> int:
        return self._added(("through", before, element))

    def joined(self, nets: Sequence[int]) -> int:
        return self._added(("any", tuple(nets)))

    def made(self, element: int) -> int:
        return self._added(("made", element))

    def _added(self, way: tuple[object, ...]) -> int:
        self.ways.append(way)
        return len(self.ways) - 1

    def power(self, conducts: Mapping[int, bool], *, rail: bool = True) -> list[bool]:
        """The power of every net. `conducts` says of each contact, by element, whether it lets
        power pass, and of each stage whether it gives power; an element that is missing does not."""
        found: list[bool] = []
        for way in self.ways:
            match way:
                case ("through", int(before), int(element)):
                    found.append(found[before] and conducts.get(element, False))
                case ("any", tuple(nets)):
                    found.append(any(found[net] for net in nets))
                case ("made", int(element)):
                    found.append(conducts.get(element, False))
                case _:
                    found.append(rail)
        return found
