"""Emergency stops whose only way to what moves leads through the program.

A stop that the program alone reads is lost with the program: a halted scan, a welded output,
a mistake in a rung. It must act on the hardwired path itself (IEC 60204-1, 9.2, and ISO 13850,
from memory). What moves is declared in `reach`: whatever is driven and is no relay and no lamp.
"""

from __future__ import annotations

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Plant
from rungproof.plant.emergency_stop import EmergencyStop


def find_in_emergency_stops(plant: Plant, reach: Reach, reporter: Reporter) -> None:
    """Each emergency stop that no circuit to anything that moves leads through, at its wire."""
    drives = reach.moving()
    if not drives:
        return
    stopping = {key.partition(".")[0] for drive in drives for key in reach.cone(drive).contacts}
    for part in plant.assembly.parts:
        if not isinstance(part, EmergencyStop) or part.name in stopping:
            continue
        wires = [wire for wire in plant.inputs if (wire.source or "").partition(".")[0] == part.name]
        reporter.report(
            "estop-program-only",
            wires[0].span if wires else plant.span,
            name=part.name,
            how="is read by the program only" if wires else "stops nothing",
        )
