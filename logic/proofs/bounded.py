"""Bounded checking: runs of one transition, of two, of three, until one is bad. It never proves."""

from __future__ import annotations

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.contract import Engine, Found, Result
from rungproof.logic.proofs.copies import Copy, Reading, new_solver, start_clauses
from rungproof.logic.proofs.encode_bits import Circuit


def bounded(bits: Bits, output: str, deepest: int = 1000) -> Engine:
    """Search for the shortest run that shows `output`, up to `deepest` transitions."""
    solver = new_solver()
    circuit = Circuit(solver)
    step = bits.step
    roots = [*step.next.values(), step.outputs[output]]
    copies = [Copy(bits, circuit, roots)]
    for clause in start_clauses(bits):
        solver.add_clause([copies[0].before_literal(each) for each in clause])
    for depth in range(1, deepest + 1):
        bad = copies[-1].output(output)
        if solver.solve([bad]):
            reading = Reading(solver)
            start = reading.values(copies[0].state)
            return Result("refuted", depth, found=Found(start, tuple(reading.values(c.inputs) for c in copies)))
        solver.add_clause([-bad])
        yield depth
        copies.append(Copy(bits, circuit, roots, copies[-1].after()))
    return Result("unknown", deepest)
