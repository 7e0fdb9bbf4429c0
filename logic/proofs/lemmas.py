"""Reachability that begins with guesses: those that follow from themselves are kept, and it goes on from there."""

from __future__ import annotations

from collections.abc import Iterable

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.contract import Engine, Result, only_working
from rungproof.logic.proofs.houdini import Houdini, trimmed
from rungproof.logic.proofs.literals import Clause
from rungproof.logic.proofs.reach import facts_of, own_of, reach


def with_lemmas(bits: Bits, output: str, guesses: Iterable[Clause], most: int | None = None) -> Engine:
    """Prove that no run shows `output`, in no more than `most` steps of reachability; never refutes."""
    kept = Houdini(bits, output)
    for _ in kept.drop_what_breaks(guesses):
        yield None
    result = yield from only_working(reach(bits, output, kept.clauses), most)
    if result.word != "proved":
        return Result("unknown", 0)
    clauses = trimmed(bits, output, [*kept.clauses, *own_of(bits, result.clauses)], kept.rests)
    return Result("proved", result.depth, tuple(facts_of(bits, clause) for clause in clauses))
