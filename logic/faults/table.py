"""The table of faults of a program."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass, replace

from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.plant_times import times_of_plant
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.search import Progress, pickled
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.engines.forked import Told
from rungproof.logic.faults.alike import classes_of
from rungproof.logic.faults.eyes import Eyes, eyes_of
from rungproof.logic.faults.judge import Judge, Judged
from rungproof.logic.faults.result import FaultRow, FaultTable, Outcome
from rungproof.logic.faults.situations import Situation, situations_of
from rungproof.logic.faults.variants import Variant, variants_of
from rungproof.logic.meaning.program import Program, Story

#: Plant ticks that all long watches together may take: the table stays within a minute on two cores.
LONG_TICKS = 45_000_000

#: A running machine is watched after a fault for so long at most (ms).
LONGEST_MS = 25 * 60_000

#: Plant ticks of stories that the reference engine runs again without being asked to.
REPLAY_TICKS = 6_000


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
) -> FaultTable:
    """Try every fault of a program with a plant. `replay`: the reference engine runs every story again.

    The result depends on `seed` alone, and not on `workers` (processes; as many as processors, if None).
    """
    began = time.time()
    if program.plant is None:
        return FaultTable(rows=(), untried=("there is no plant: nothing physical can fail",), seed=seed)
    eyes = eyes_of(program)
    situations, untried = situations_of(program, profile_of(program), eyes, seed)
    variants = variants_of(program)
    classes, _ = classes_of(program, eyes.told, variants)
    tick = program.plant.tick
    fair = LONG_TICKS * tick // max(1, len(classes) * len(situations))
    longest = max(times_of_plant(program.plant), default=0)
    long_ms = min(fair, LONGEST_MS, 2 * longest) // tick * tick
    task = Task(program, eyes, tuple(situations), long_ms, tuple(group[0] for group in classes))
    judged: dict[str, Judged] = {}
    for place, (variant, each) in enumerate(_judged(task, workers)):
        judged[variant.name] = each
        if progress is not None:
            progress(place + 1, len(classes), f"{variant.name}")
    by_variant = {member.name: (judged[group[0].name], group[0]) for group in classes for member in group}
    rows = _Rows(program, task, replay)
    found = [rows.row(v, *by_variant[v.name]) if v.name in by_variant else rows.idle(v) for v in variants]
    return FaultTable(
        rows=tuple(found),
        situations=tuple(_words(each) for each in situations),
        untried=tuple(untried),
        seed=seed,
        runs=sum(each.runs for each in judged.values()),
        simulated_ms=sum(each.simulated_ms for each in judged.values()),
        elapsed_s=time.time() - began,
    )


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
    count = workers or os.cpu_count() or 1
    size = max(1, min(8, len(task.variants) // (4 * count)))
    batches = [task.variants[at : at + size] for at in range(0, len(task.variants), size)]
    tasks = [replace(task, variants=batch) for batch in batches]
    pool = ProcessPoolExecutor(count) if count > 1 and pickled(task) is not None else None
    with pool or nullcontext():
        results = pool.map(judge_all, tasks) if pool is not None else map(judge_all, tasks)
        for batch, judged in zip(batches, results, strict=True):
            yield from zip(batch, judged, strict=True)


# ------------------------------------------------------------------------ the rows


class _Rows:
    """Rows from what was found; the reference engine runs stories again."""

    def __init__(self, program: Program, task: Task, replay: bool) -> None:
        self.program, self.task, self.replay = program, task, replay
        self.left = REPLAY_TICKS
        self.known: dict[Story, bool] = {}

    def row(self, variant: Variant, judged: Judged, stands_for: Variant) -> FaultRow:
        shows, seen = judged.shows
        worst = judged.worst if judged.findings else None
        outcome: Outcome = "no effect" if worst is None else worst.outcome
        broken = tuple(dict.fromkeys(name for each in judged.findings for name in each.broken))
        hazards = tuple(dict.fromkeys(name for each in judged.findings for name in each.hazards))
        story = None if worst is None else _as(variant, stands_for, worst.told.story)
        return FaultRow(
            part=variant.part,
            fault=variant.fault,
            words=variant.words,
            comes=variant.comes,
            outcome=outcome,
            shows=shows,
            detected=None if seen is None else seen.what,
            detected_ms=None if seen is None else seen.after_ms,
            safe=tuple(judged.safe.values()),
            broken=broken,
            claimed=tuple(name for name in broken if self._claims(name, variant)),
            hazards=hazards,
            does="" if worst is None else worst.does,
            situation="" if worst is None else worst.situation,
            story="" if story is None else story_block(self.program, story, f"{variant.name}: {outcome}"),
            replayed=worst is not None and self._replays(worst.told, story or worst.told.story, outcome),
        )

    def idle(self, variant: Variant) -> FaultRow:
        """A fault on which nothing in the model depends."""
        return FaultRow(
            variant.part, variant.fault, variant.words, variant.comes, "no effect", "never", None, None, (), (), (), (),
            "nothing in the model depends on it", "", "", False,
        )  # fmt: skip

    def _claims(self, name: str, variant: Variant) -> bool:
        """Whether a requirement says that it holds in spite of this: one fault, or power that comes and goes."""
        requirement = next(each for each in self.program.requirements if each.name == name)
        return requirement.any_one_fault or self.program.knobs[variant.key].kind == "power"

    def _replays(self, told: Told, story: Story, outcome: Outcome) -> bool:
        """Whether the reference engine was asked, and says the same; raises `AssertionError` if it says otherwise."""
        assert self.program.plant is not None
        if story in self.known:
            return self.known[story]
        ticks = story.duration_ms // self.program.plant.tick
        bad = outcome in ("hazard open", "late", "moves unasked", "requirement broken")
        asked = self.replay or (bad and ticks <= self.left)
        if asked:
            self.left -= 0 if self.replay else ticks
            replay_same(self.program, self.task.eyes, told, story)
        self.known[story] = asked
        return asked


def replay_same(program: Program, eyes: Eyes, told: Told, story: Story) -> None:
    """The reference engine's run of `story` violates the same at the same times and ends as was told."""
    outcome = reference_engine().run(program, story)
    violated = {name: each.violated_at for name, each in outcome.judgements.items()}
    ended = tuple(outcome.final[name] for name in eyes.told)
    if violated != told.violated or ended != tuple(told.rows[-1][1:]):
        raise AssertionError(f"internal error: the engines differ in the story {story}")


def _as(variant: Variant, stands_for: Variant, story: Story) -> Story:
    """The story with this variant in place of the one that was run for its class."""
    if variant.key == stands_for.key:
        return story
    return replace(
        story,
        events=tuple(replace(e, key=variant.key) if e.key == stands_for.key else e for e in story.events),
    )
