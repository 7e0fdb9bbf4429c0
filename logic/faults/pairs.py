"""Two independent faults: one that has stood, hidden, since the machine was at rest, and another while it runs.

Order and dwell matter: the first is one that nothing shows until something is asked (what shows is
mended), and it has stood all through the start; the second comes a little before the demand. Left
out are pairs of which one cannot matter: a fault outside the cone of every safe state and every
requirement, through any number of steps; and a fault that does the same as another, whatever else
stands (`alike.System.beside_others`): one of them stands for both. Both are sound.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rungproof.logic.faults.alike import System, cone_of
from rungproof.logic.faults.eyes import Eyes
from rungproof.logic.faults.judge import Judge, Judged
from rungproof.logic.faults.result import FaultRow
from rungproof.logic.faults.situations import WATCH_MS, Situation
from rungproof.logic.faults.variants import FOR_GOOD, Variant
from rungproof.logic.meaning.program import Program
from rungproof.logic.steps.node import Node


@dataclass(frozen=True)
class Work:
    """A hidden fault and all that may come after it, each with whether it takes long to show alone."""

    first: Variant
    seconds: tuple[tuple[Variant, bool], ...]


@dataclass(frozen=True)
class PairTask:
    """What one process does at a time."""

    program: Program
    eyes: Eyes
    situations: tuple[Situation, ...]
    long_ms: int
    work: Work


@dataclass(frozen=True)
class Chosen:
    """Pairs to run; how many there are, and how many were left out as they cannot matter."""

    work: tuple[Work, ...]
    tried: int
    left_out: int


def choose(program: Program, eyes: Eyes, variants: Sequence[Variant], rows: Mapping[str, FaultRow]) -> Chosen:
    """The ordered pairs worth running."""
    lasting = [each for each in variants if each.comes == FOR_GOOD]
    latent = [each for each in lasting if rows[each.name].outcome == "hidden"]
    cone = cone_of(program, eyes)
    system = System(program, eyes.told)
    stands_for: dict[tuple[Node, ...], Variant] = {}
    kept: list[Variant] = []
    for each in lasting:
        if each.key not in cone:
            continue
        same = system.beside_others(each.key)
        if stands_for.setdefault(same, each) is each:
            kept.append(each)
    firsts = [each for each in latent if each in kept]
    work = [
        Work(first, tuple((each, _slow(rows[each.name])) for each in kept if each.key != first.key)) for first in firsts
    ]
    tried = sum(len(each.seconds) for each in work)
    whole = len(latent) * (len(lasting) - 1)
    return Chosen(tuple(work), tried, whole - tried)


def _slow(row: FaultRow) -> bool:
    return row.shows == "later" and (row.detected_ms or 0) > WATCH_MS


def judge_pairs(task: PairTask) -> list[Judged]:
    """What a process does: every second fault after one first."""
    found = [Judged() for _ in task.work.seconds]
    for situation in task.situations:
        judge = Judge(task.program, task.eyes, situation, task.long_ms)
        mark = judge.hidden_since_rest(task.work.first)
        if mark is None:
            continue
        for (second, slow), judged in zip(task.work.seconds, found, strict=True):
            judge.judge_after(mark, second, judged, slow)
    return found
