"""The table of faults of a program."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import TypeVar

from rungproof.logic.checks.parent import worker_pool
from rungproof.logic.checks.plant_times import times_of_plant
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.search import Progress, pickled
from rungproof.logic.checks.words import span_words
from rungproof.logic.faults.alike import classes_of
from rungproof.logic.faults.eyes import Eyes, eyes_of
from rungproof.logic.faults.judge import Judge, Judged
from rungproof.logic.faults.pairs import PairTask, choose, judge_pairs
from rungproof.logic.faults.replays import Replay, ReplayTask, chosen, in_batches, replay_all
from rungproof.logic.faults.result import NOTHING_TRIED, Excluded, FaultRow, FaultTable
from rungproof.logic.faults.rows import Rows
from rungproof.logic.faults.signals import losses_of
from rungproof.logic.faults.situations import Situation, situations_of
from rungproof.logic.faults.variants import Variant, variants_of
from rungproof.logic.meaning.program import Plant, Program, Story

T = TypeVar("T")
R = TypeVar("R")

#: Plant ticks that all long watches together may take: the table stays within a minute on two cores.
LONG_TICKS = 45_000_000

#: A running machine is watched after a fault for so long at most (ms).
LONGEST_MS = 25 * 60_000


@dataclass(frozen=True)
class Task:
    """What one process does: the variants of `variants`, in every situation."""

    program: Program
    eyes: Eyes
    situations: tuple[Situation, ...]
    long_ms: int
    variants: tuple[Variant, ...]


def fault_table(
    program: Program,
    *,
    seed: int = 0,
    pairs: bool = False,
    replay: bool = False,
    progress: Progress | None = None,
    workers: int | None = None,
    long_ticks: int = LONG_TICKS,
) -> FaultTable:
    """Try every fault of a program with a plant. `replay`: the reference engine runs every story again.

    Faults that the file leaves out of account are run too, and told apart from the rows: whoever judges an
    exclusion wants to know what it hides. The result depends on `seed` and `long_ticks` alone (plant ticks
    that all long watches together may take), not on `workers` (processes; as many as processors, if None).
    """
    began = time.time()
    if program.plant is None:
        untried = ["there is no plant: nothing physical can fail"]
        return FaultTable(rows=(), untried=tuple(untried), pairs=() if pairs else None, seed=seed)
    eyes = eyes_of(program)
    situations, untried = situations_of(program, profile_of(program), eyes, seed)
    if not situations:  # with nothing to try a fault in, `no effect` would be a word without a run behind it
        return FaultTable(
            (), _left_out(program, {}), untried=(*untried, NOTHING_TRIED), pairs=() if pairs else None, seed=seed
        )
    every = variants_of(program)
    classes, _ = classes_of(program, eyes.told, every)
    long_ms = _long_ms(program.plant, long_ticks, len(classes) * len(situations))
    untried += _too_long(program, long_ms)
    task = Task(program, eyes, tuple(situations), long_ms, tuple(group[0] for group in classes))
    judged: dict[str, Judged] = {}
    for place, (variant, each) in enumerate(_judged(task, workers)):
        judged[variant.name] = each
        if progress is not None:
            progress(place + 1, len(classes), f"{variant.name}")
    by_variant = {member.name: (judged[group[0].name], group[0]) for group in classes for member in group}
    rows = Rows(program)
    by_name = {v.name: rows.row(v, *by_variant[v.name]) if v.name in by_variant else rows.idle(v) for v in every}
    variants = [each for each in every if each.key not in program.excluded]
    found = [by_name[each.name] for each in variants]
    two = _two(task, rows, variants, by_name, _Told(progress, workers)) if pairs else Two((), 0, 0)
    stories = [rows.replays[row.story] for row in (*found, *two.rows) if row.story]
    same = _replayed(program, eyes, stories, _Told(progress, workers), every=replay)
    return FaultTable(
        rows=tuple(rows.told(row, same) for row in found),
        excluded=_left_out(program, {v.key: by_name[v.name] for v in reversed(every)}),
        signals=tuple(losses_of(program, situations, by_name)),
        situations=tuple(_words(each) for each in situations),
        untried=tuple(untried),
        pairs=tuple(rows.told(row, same) for row in two.rows) if pairs else None,
        pairs_tried=two.tried,
        pairs_left_out=two.left_out,
        watched_ms=long_ms,
        known=len({each.key for each in variants if program.knobs[each.key].kind in ("fault", "stop")}),
        seed=seed,
        runs=sum(each.runs for each in judged.values()),
        simulated_ms=sum(each.simulated_ms for each in judged.values()),
        elapsed_s=time.time() - began,
    )


def _long_ms(plant: Plant, ticks: int, runs: int) -> int:
    """How long a long watch lasts: twice the plant's longest time, where `runs` of them fit into `ticks` in all."""
    fair = ticks * plant.tick // max(1, runs)
    longest = max(times_of_plant(plant), default=0)
    return min(fair, LONGEST_MS, 2 * longest) // plant.tick * plant.tick


def _left_out(program: Program, rows: Mapping[str, FaultRow]) -> tuple[Excluded, ...]:
    """What the file leaves out of account, with what it would do. `rows`: by the fault's key, as it comes for good."""
    found = []
    for each in program.exclusions:
        row = rows.get(each.key)
        told = (None, "") if row is None else (row.outcome, row.does)
        found.append(Excluded(*_named(each.key), each.reason, *told))
    return tuple(found)


def _too_long(program: Program, long_ms: int) -> list[str]:
    """Requirements that no run here is long enough to decide."""
    found = [each for each in program.requirements if each.horizon > long_ms]
    return [f"{each.name}: it speaks of {span_words(each.horizon)}, and no run here lasts so long" for each in found]


def _named(key: str) -> tuple[str, str]:
    part, _, fault = key.partition("!")
    return part, fault


def _words(situation: Situation) -> str:
    asked = "; ".join(demand.words for demand in situation.demands) or "nothing was found that brings the safe state"
    return f"safe state of {', '.join(situation.safe.hazards)}: {situation.words}; asked of it: {asked}"


# ------------------------------------------------------------------------ the runs


def judge_all(task: Task) -> list[Judged]:
    """What a process does."""
    judges = [Judge(task.program, task.eyes, each, task.long_ms) for each in task.situations]
    found = []
    for variant in task.variants:
        judged = Judged()
        for judge in judges:
            judge.judge(variant, judged)
        found.append(judged)
    return found


def _judged(task: Task, workers: int | None) -> Iterator[tuple[Variant, Judged]]:
    """Variants with what was found, in their order."""
    size = max(1, min(8, len(task.variants) // 8))
    batches = [task.variants[at : at + size] for at in range(0, len(task.variants), size)]
    for done, judged in _mapped(judge_all, [replace(task, variants=batch) for batch in batches], workers):
        yield from zip(done.variants, judged, strict=True)


def _mapped(work: Callable[[T], R], tasks: Sequence[T], workers: int | None) -> Iterator[tuple[T, R]]:
    """Tasks with their results, in order; in processes where what they are about can be pickled."""
    count = workers or os.cpu_count() or 1
    apart = count > 1 and tasks and pickled(tasks[0]) is not None
    pool = worker_pool(count) if apart else None
    with pool or nullcontext():
        results = pool.map(work, tasks) if pool is not None else map(work, tasks)
        yield from zip(tasks, results, strict=True)


def _replayed(program: Program, eyes: Eyes, stories: Sequence[Replay], told: _Told, *, every: bool) -> frozenset[Story]:
    """The stories that the reference engine was asked about; it said the same of each."""
    assert program.plant is not None
    replays = chosen(stories, program.plant.tick, every=every)
    batches = in_batches(replays, told.workers or os.cpu_count() or 1)
    tasks = [ReplayTask(program, eyes, batch) for batch in batches]
    done = 0
    for _, same in _mapped(replay_all, tasks, told.workers):
        done += same
        if told.progress is not None:
            told.progress(done, len(replays), "stories again in the reference engine")
    return frozenset(each.story for each in replays)


@dataclass(frozen=True, slots=True)
class Two:
    """Rows of pairs, how many were run, and how many left out."""

    rows: tuple[FaultRow, ...]
    tried: int
    left_out: int


@dataclass(frozen=True, slots=True)
class _Told:
    progress: Progress | None
    workers: int | None


def _two(task: Task, rows: Rows, variants: Sequence[Variant], by_name: Mapping[str, FaultRow], told: _Told) -> Two:
    """Every ordered pair of a hidden fault and another, as far as either can matter."""
    chosen = choose(task.program, task.eyes, variants, by_name)
    found: list[FaultRow] = []
    tasks = [PairTask(task.program, task.eyes, task.situations, task.long_ms, each) for each in chosen.work]
    for place, (done, judged) in enumerate(_mapped(judge_pairs, tasks, told.workers)):
        for (second, _), each in zip(done.work.seconds, judged, strict=True):
            row = rows.pair(done.work.first, second, each, by_name)
            if row is not None:
                found.append(row)
        if told.progress is not None:
            told.progress(place + 1, len(tasks), f"pairs with {done.work.first.name}")
    return Two(tuple(found), chosen.tried, chosen.left_out)
