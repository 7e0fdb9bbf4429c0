"""How long things take in a plant: what its parts' lines say, and what follows from sizes and flows."""

from __future__ import annotations

import re
from collections.abc import Iterator

from rungproof.logic.meaning.program import Plant
from rungproof.plant.part import Mover, Part, Vessel

#: Slots of a part's clauses that hold a time or a flow, and the size of their unit.
_SLOT = re.compile(r"\{(\w+):([^}.+]+)(?:\.\.|\+)?\}")
_MS = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000}
_MS_PER_L = {"L/s": 1000, "L/min": 60_000, "L/h": 3_600_000}


def times_of_plant(plant: Plant) -> set[int]:
    """Times (ms, 1 or more): delays and lags of parts, and how long a mover takes to fill or
    empty the smaller of the vessels it joins."""
    parts = plant.assembly.parts
    found = {round(value * _MS[unit]) for part in parts for value, unit in _given(part) if unit in _MS}
    volumes = {part.name: _volume(part) for part in parts if isinstance(part, Vessel)}
    for part in parts:
        if isinstance(part, Mover):
            joined = [volumes[end] for end in (part.source, part.destination) if end in volumes]
            flows = [value / _MS_PER_L[unit] for value, unit in _given(part) if unit in _MS_PER_L]
            if joined and max(flows, default=0) > 0:
                found.add(round(min(joined) / max(flows)))
    return {time for time in found if time >= 1}


def _given(part: Part) -> Iterator[tuple[float, str]]:
    """The numbers in a part's line with the units that its clauses give them."""
    for clause in part.clauses:
        for slot, unit in _SLOT.findall(clause.pattern):
            value = part.given.get(slot)
            numbers = value if isinstance(value, tuple) else (value,)
            for number in numbers:
                if isinstance(number, int | float) and not isinstance(number, bool):
                    yield float(number), unit


def _volume(vessel: Part) -> float:
    """What a vessel holds at most, in litres."""
    return max((float(v.high) for v in vessel.variables if v.name == "volume"), default=0.0)
