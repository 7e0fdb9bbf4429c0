"""Every check that nobody has to ask for, in one call."""

from __future__ import annotations

from functools import cache

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.broken_wires import find_in_broken_wires
from rungproof.logic.meaning.findings.channels import find_in_channels
from rungproof.logic.meaning.findings.emergency_stops import find_in_emergency_stops
from rungproof.logic.meaning.findings.layers import find_in_layers
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.findings.rungs import rung_findings
from rungproof.logic.meaning.findings.scaling import find_in_scaling
from rungproof.logic.meaning.findings.signals import find_in_signals
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.requirements import parts_of
from rungproof.logic.meaning.requirements_reading import readings_of


def report_findings(program: Program, reporter: Reporter) -> None:
    """Look at a program that can run; findings of grade error leave it runnable."""
    reach = Reach(program.plant) if program.plant is not None else None
    moves = cache(reach.moves) if reach is not None else None
    if program.controller is not None:
        rung_findings(program.controller, reporter, moves=moves, read_elsewhere=_read_elsewhere(program))
    find_in_scaling(program, reporter)
    find_in_signals(program, reporter)
    if program.plant is not None and reach is not None and moves is not None:
        find_in_channels(program.plant, reach, reporter)
        find_in_emergency_stops(program.plant, reach, reporter)
        find_in_broken_wires(program, moves, reporter)
        find_in_layers(program, reach, reporter)


def _read_elsewhere(program: Program) -> frozenset[str]:
    """Tags that requirements, assumptions, hazards and scenarios read."""
    conditions = [each for r in program.requirements for each in (*parts_of(r.form)[0], *parts_of(r.form)[1])]
    conditions += [r.from_time for r in program.requirements if r.from_time is not None]
    conditions += [a.condition for a in program.assumptions]
    conditions += [h.safe_state for h in program.hazards if h.safe_state is not None]
    conditions += [e.condition for s in program.scenarios for e in s.expectations]
    return frozenset(readings_of(conditions).tags)
