"""One pair of a small program and a requirement, decided twice: by the provers and by trying everything."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from random import Random

from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import decide
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import OUTAGE_TICKS, System, requirement_system
from small_controllers import small_text


@dataclass
class Tally:
    """What was decided, and what was wrong: must stay empty."""

    wrong: list[str] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)


def outages(system: System) -> list[int]:
    """All outages that differ: ages of monitors stop counting at their limit, in ms as a tick is here."""
    own = [each for each in system.step.states.values() if each.type == "int" and "/" in each.name]
    return list(range(1, max((int(each.high) for each in own), default=0) + 2))


def compare(seed: int, tally: Tally) -> None:
    """Decide both requirements of one generated program both ways."""
    program = understand_texts({"small.rung": small_text(Random(seed))}).program
    if program is None:
        tally.counts["not run"] += 1
        return
    for requirement in program.requirements:
        system = requirement_system(program, requirement)
        for output in (system.bad, system.triggered):
            _decide_both(f"seed {seed}, {requirement.name}, {output}", program, system, output, tally)


def _decide_both(where: str, program: Program, system: System, output: str, tally: Tally) -> None:
    cone = replace(system, step=system.step.slice([output]), bad=output)
    try:
        truth = explore(
            cone.step, output, choices={OUTAGE_TICKS: outages(system)}, free_starts=cone.free_starts, most_layers=300
        )
    except TooLargeError:
        tally.counts["too large"] += 1
        return
    found = decide(system, output, 20.0)
    tally.counts[f"{found.word}, {'reachable' if truth.reachable else 'not'}"] += 1
    if found.word == "proved":
        if truth.reachable:
            tally.wrong.append(f"{where}: proved, and reached after {truth.depth} scans")
        answer = recheck(cone, Invariant(found.clauses), 20.0)
        if not isinstance(answer, Verified):
            tally.wrong.append(f"{where}: the second solver does not agree: {answer}")
        elif not all(Invariant(found.clauses).true_in(state) for state in truth.table):
            tally.wrong.append(f"{where}: a reachable state breaks the invariant")
    elif found.word == "refuted":
        if not truth.reachable:
            tally.wrong.append(f"{where}: refuted, and out of reach")
        elif found.shortest and found.run is not None and truth.depth is not None:
            tally.counts["shortest"] += 1
            if len(found.run.given) != truth.depth + 1:
                tally.wrong.append(f"{where}: {len(found.run.given)} scans for the shortest, {truth.depth + 1} do")
        broken = recheck(cone, Invariant(()), 20.0)
        if isinstance(broken, Verified):
            tally.wrong.append(f"{where}: an empty invariant passes for what is reachable")
