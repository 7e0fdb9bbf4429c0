"""One mutant judged: refused by a diagnosis, killed by an objection, equal, or alive so far.

What costs least comes first: reading it, the stories that are at hand, the proof that nothing
changed, a short search of its own, and last the story in which it differs from the original.
"""

from __future__ import annotations

import math
import pickle
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.tree import Block
from rungproof.logic.checks.engine_choice import name_of
from rungproof.logic.checks.plan import plan_of
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.search import Search
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.meaning.program import Program, SourceText, Story
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.mutants.attacks import Attack, Objection, attacked, fits
from rungproof.logic.mutants.difference import Differ, Difference
from rungproof.logic.proofs.compare import compare_programs
from rungproof.logic.proofs.sides import same_plant

#: Nominal seconds of the search that a mutant gets for itself: below what would start more processes.
SEARCH_S = 0.9
#: Seconds that a proof of equality may take.
EQUAL_S = 4.0
#: Why a mutant was left alone: what all of them together may take was used up.
TIME_OUT = "the time was out before it was its turn"
#: The plan ends a search for itself, not the clock: only a machine that stands still gets here (s).
PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True)
class Case:
    """What all mutants of a project have in common.

    `errors` and `warnings` are the findings of the original itself. `search_s`: nominal seconds of the
    search that a mutant gets for itself.
    """

    program: Program
    sources: tuple[SourceText, ...]
    folder: Path | None
    attacks: tuple[Attack, ...]
    failing: frozenset[str]
    errors: frozenset[tuple[str, str]]
    warnings: frozenset[tuple[str, str]]
    watch: frozenset[str]
    seed: int
    search_s: float = SEARCH_S


@dataclass(frozen=True, slots=True)
class Judged:
    """One mutant's fate. Exactly one of these holds: `refused` is set, `objection` is set, `equal` is True, or none.

    `reason` says how equality was found, or why it was not. `warned` are the codes of findings that
    the mutant alone has. `searched` counts the runs of its own search. `program` lacks the plant where that is
    the original's: `whole_program` puts it back.
    """

    number: int
    refused: Diagnosis | None = None
    objection: Objection | None = None
    attack: int | None = None
    equal: bool = False
    reason: str = ""
    difference: Difference | None = None
    warned: tuple[str, ...] = ()
    searched: int = 0
    program: Program | None = field(default=None, repr=False)
    same_plant: bool = False


@dataclass(frozen=True, slots=True)
class Task:
    """A few mutants for one process: `case` is pickled, unless all is done in this one; mutants are their
    numbers with their blocks. Those whose turn comes after `until` (s, of `time.time`) are left as they are known."""

    case: bytes | Case
    mutants: tuple[tuple[int, tuple[Block, ...]], ...]
    deep: bool
    until: float = math.inf


@lru_cache(maxsize=2)
def _loaded(pickled: bytes) -> Case:
    loaded: Case = pickle.loads(pickled)
    return loaded


def case_of(case: bytes | Case) -> Case:
    """A case as it came to a process; kept, because many tasks bring the same."""
    return case if isinstance(case, Case) else _loaded(case)


def judge_all(task: Task) -> list[Judged]:
    """Judge the mutants of a task, in this process."""
    case = case_of(task.case)
    return [judge(case, number, blocks, task.deep) for number, blocks in task.mutants if time.time() <= task.until]


def judge(case: Case, number: int, blocks: tuple[Block, ...], deep: bool) -> Judged:
    """Judge one mutant. Without `deep` only reading it and the stories at hand are tried."""
    understood = understand_project(Project(list(case.sources), list(blocks)), case.folder)
    fresh = [d for d in understood.diagnoses if d.grade == "error" and (d.code, d.message) not in case.errors]
    if understood.program is None or fresh:
        return Judged(number, refused=(fresh or [d for d in understood.diagnoses if d.grade == "error"])[0])
    warned = Counter(d.code for d in understood.diagnoses if (d.code, d.message) not in case.warnings)
    same = same_plant(case.program, understood.program)
    carried = replace(understood.program, plant=None) if same else understood.program
    judged = Judged(number, warned=tuple(sorted(warned)), program=carried, same_plant=same)
    program = whole_program(case, judged)
    return _deeply(case, judged, program) if deep else _attacked(case, judged, program)


def whole_program(case: Case, judged: Judged) -> Program:
    """The mutant's program, with the original's own plant where the two are the same."""
    assert judged.program is not None, "a mutant that can be run"
    return replace(judged.program, plant=case.program.plant) if judged.same_plant else judged.program


def _attacked(case: Case, judged: Judged, program: Program) -> Judged:
    for place, attack in enumerate(case.attacks):
        objection = attacked(program, [attack], case.failing)
        if objection is not None:
            return replace(judged, objection=objection, attack=place)
    return judged


def _deeply(case: Case, judged: Judged, program: Program) -> Judged:
    if judged.same_plant:
        found = compare_programs(case.program, program, time_s=EQUAL_S, seed=case.seed)
        if found.word == "equal" and not found.only:
            return replace(judged, equal=True, reason=found.engine)
        judged = replace(judged, reason=found.why)
    objection, runs, stories = _searched(case, program)
    judged = replace(judged, searched=runs)
    if objection is not None:
        return replace(judged, objection=objection)
    at_hand = (attack.story for attack in case.attacks)
    stories = [s for s in (*at_hand, *stories) if fits(case.program, s) and fits(program, s)]
    return replace(judged, difference=Differ(case.program, program).shortest(stories))


def _searched(case: Case, program: Program) -> tuple[Objection | None, int, list[Story]]:
    """A search of the mutant itself: an objection if one was found, its runs, and the stories it reached."""
    wanted = case.watch - case.failing
    profile = profile_of(program)
    # Long runs side by side would cost each mutant more than all its short ones.
    plan = replace(plan_of(program, profile, time_s=case.search_s, engine=name_of(None)), wide=())
    until = time.time() + PATIENCE_S + case.search_s
    search = Search(program, profile, plan, case.seed, None, until, wanted)
    found = search.run()
    reached = (story for corpus in search.corpora.values() for story in corpus.values())
    stories = sorted(reached, key=lambda story: story.duration_ms)
    violated = [(at, name, story) for name, (story, at) in found.violations.items() if name in wanted]
    if not violated:
        return None, found.tally.runs, stories
    at, name, story = min(violated, key=lambda each: (each[0], each[1]))
    return Objection(name, ended_at(story, at), at), found.tally.runs, stories
