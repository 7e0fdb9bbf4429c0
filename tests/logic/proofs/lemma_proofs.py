"""Proofs by an engine that only proves, on generated programs, against trying everything and the second solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from random import Random
from typing import Any

import pytest
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import lemmas
from rungproof.logic.proofs.contract import Engine, Result
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.literals import Clause, Invariant
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import OUTAGE_TICKS, System, requirement_system
from small_controllers import small_text


def finished(engine: Engine, turns: int = 3000) -> Result:
    """What an engine says in the end; unknown after so many turns."""
    for _ in range(turns):
        try:
            next(engine)
        except StopIteration as end:
            result: Result = end.value
            return result
    return Result("unknown", 0)


def believe_guesses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what was seen in runs is taken for true, and nothing of it is left out."""

    def believed(self: Any, guesses: Iterable[Clause]) -> Iterator[None]:
        self.marks = {-place: (clause, 0) for place, clause in enumerate(guesses)}
        yield None

    monkeypatch.setattr(lemmas.Houdini, "drop_what_breaks", believed)
    monkeypatch.setattr(lemmas, "trimmed", lambda bits, output, clauses, rests: clauses)


def system_of(text: str, name: str = "R1") -> System:
    found = understand_texts({"it.rung": text})
    assert found.program is not None, found.diagnoses
    requirement = next(each for each in found.program.requirements if each.name == name)
    return requirement_system(found.program, requirement)


def systems(seeds: Iterable[int]) -> Iterator[tuple[str, System]]:
    for seed in seeds:
        program = understand_texts({"small.rung": small_text(Random(seed))}).program
        for requirement in program.requirements if program is not None else ():
            yield f"seed {seed}, {requirement.name}", requirement_system(program, requirement)  # type: ignore[arg-type]


def wrong_proofs(
    engine: Callable[[Forms], Engine], seeds: Iterable[int], turns: int = 3000
) -> tuple[Counter[str], list[str]]:
    """Every proof: the second solver agrees, and every state that trying everything comes to fulfils the clauses."""
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    for where, system in systems(seeds):
        forms = Forms(system, system.bad)
        found = finished(engine(forms), turns)
        counts[found.word] += 1
        if found.word != "proved":
            continue
        cone, invariant = forms.system, Invariant(found.clauses)
        counts["with a difference"] += any(each.minus for clause in found.clauses for each in clause)
        if not isinstance(recheck(cone, invariant, 20.0), Verified):
            wrong.append(f"{where}: the second solver does not agree")
        pauses = {OUTAGE_TICKS: range(1, 8)}
        try:
            truth = explore(cone.step, system.bad, choices=pauses, free_starts=cone.free_starts, most_layers=60)
        except TooLargeError:
            continue
        counts["tried"] += 1
        if truth.reachable or not all(invariant.true_in(state) for state in truth.table):
            wrong.append(f"{where}: proved, and not so")
    return counts, wrong
