"""All mutants of a project hunted: on the stories at hand first, then one by one; every kill replayed."""

from __future__ import annotations

import math
import pickle
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from rungproof.grammar.tree import Block
from rungproof.logic.checks.parent import can_fork, forked_pool
from rungproof.logic.checks.search import Progress, pickled
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.mutants.attacks import Attack, suite_of
from rungproof.logic.mutants.confirm import confirmed, stacks_of
from rungproof.logic.mutants.generate import mutants_of
from rungproof.logic.mutants.judge import SEARCH_S, TIME_OUT, Case, Judged, Task, judge_all
from rungproof.logic.mutants.mutant import Mutant
from rungproof.logic.mutants.result import MutantResult, MutantsResult, Suggestion
from rungproof.logic.mutants.suggest import SuggestTask, suggested

T = TypeVar("T")
R = TypeVar("R")

#: Planned seconds of the search of the original, whose stories the mutants are run against.
SUITE_S = 10.0
#: Mutants that one process takes at a time, at first and one by one.
CHUNK, DEEP_CHUNK = 6, 1
#: Seconds that those that live may take together, for each mutant that there is: more rungs, more time.
ALIVE_S = 5.0
#: Seconds at least for suggestions; the survivors that come later get the scenario that costs nothing.
SUGGEST_S = 60.0
#: Processes of our own.
WORKERS = 2


def hunt(
    project: Project,
    understood: Understanding,
    folder: Path | None,
    *,
    seed: int = 0,
    rungs: Iterable[str] = (),
    suite_s: float = SUITE_S,
    search_s: float = SEARCH_S,
    alive_s: float = ALIVE_S,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> MutantsResult:
    """Judge every mutant of a project that can be run (of `rungs`, if any are named).

    `suite_s` and `search_s`: nominal seconds of the search of the original, and of each mutant that lives.
    `alive_s`: what those that live may take together, in seconds for each mutant that there is; one whose turn comes
    later is undecided. Deterministic by `seed`, but for proofs that the clock ends, and for this time.
    Raises `KeyError` for a rung without a mutant.
    """
    program = understood.program
    assert program is not None, "a program that can be run"
    began = time.monotonic()
    scan = program.controller.scan_low if program.controller is not None else 1
    mutants = _of_rungs(mutants_of(project.blocks, scan), list(rungs))
    with _pool(executor, program) as pool:
        work = _Hunt(program, understood, folder, tuple(project.blocks), mutants, seed, pool, progress)
        work.prepare(suite_s, search_s)
        work.judge_at_hand()
        work.judge_deeply(alive_s * len(mutants))
        results = tuple(work.results())
    return MutantsResult(
        results,
        tuple(sorted(work.case.failing)),
        seed,
        len(work.case.attacks),
        work.runs,
        time.monotonic() - began,
    )


def _of_rungs(mutants: tuple[Mutant, ...], wanted: Sequence[str]) -> tuple[Mutant, ...]:
    known = dict.fromkeys(mutant.rung for mutant in mutants)
    for name in wanted:
        if name not in known:
            raise KeyError(f"no rung or retained tag is called `{name}`; there are: {', '.join(known) or 'none'}")
    return tuple(mutant for mutant in mutants if not wanted or mutant.rung in wanted)


@contextmanager
def _pool(executor: Executor | None, program: Program) -> Iterator[Executor | None]:
    """The executor given, or processes of our own where they can be had without the caller's help.

    None where a user's own part cannot be told to another process.
    """
    if pickled(program) is None:
        yield None
    elif executor is not None:
        yield executor
    elif can_fork():
        with forked_pool(WORKERS) as pool:
            yield pool
    else:
        yield None


@dataclass
class _Hunt:
    program: Program
    understood: Understanding
    folder: Path | None
    blocks: tuple[Block, ...]
    mutants: tuple[Mutant, ...]
    seed: int
    pool: Executor | None
    progress: Progress | None
    judged: dict[int, Judged] = field(default_factory=dict)
    case: Case = field(init=False)
    replayed: set[int] = field(default_factory=set)
    runs: int = 0
    until: float = math.inf

    def prepare(self, suite_s: float, search_s: float) -> None:
        """The stories that all mutants meet. Requirements that no mutant can violate are not watched."""
        watch = frozenset(each.name for each in self.program.requirements)
        self._tell(0, "looking for stories")
        suite = suite_of(self.program, self.seed, suite_s, watch, executor=self.pool)
        found = [(d.code, d.message, d.grade) for d in self.understood.diagnoses]
        self.runs += suite.runs
        self.case = Case(
            program=self.program,
            sources=tuple(self.program.sources),
            folder=self.folder,
            attacks=tuple(sorted(suite.attacks, key=lambda attack: attack.story.duration_ms)),
            failing=suite.failing,
            errors=frozenset((code, message) for code, message, grade in found if grade == "error"),
            warnings=frozenset((code, message) for code, message, _ in found),
            watch=watch,
            seed=self.seed,
            search_s=search_s,
        )

    def judge_at_hand(self) -> None:
        """Every mutant against the stories at hand; each killing story is replayed."""
        self._judge(self.mutants, CHUNK, deep=False)
        self._confirm()

    def judge_deeply(self, time_s: float) -> None:
        """Those that live: proof of equality, a search of their own, the story in which they differ."""
        left = [m for m in self.mutants if self._alive(self.judged[m.number])]
        self.until = time.time() + time_s
        for mutant in left:  # until its turn has come
            self.judged[mutant.number] = replace(self.judged[mutant.number], reason=TIME_OUT)
        self._judge(left, DEEP_CHUNK, deep=True)
        self._spread([m.number for m in left])
        self._confirm()

    def _spread(self, numbers: Sequence[int]) -> None:
        """What killed one in its own search is tried on the others that live."""
        killers = [self.judged[n].objection for n in numbers]
        fresh = [Attack(o.story, frozenset({o.by})) for o in killers if o is not None and o.scenario is None]
        if not fresh:
            return
        before = self.case
        self.case = replace(before, attacks=tuple(fresh))
        alive = [m for m in self.mutants if m.number in numbers and self._alive(self.judged[m.number])]
        kept = {m.number: self.judged[m.number] for m in alive}
        self._judge(alive, CHUNK, deep=False)
        for number, judged in kept.items():
            if self.judged[number].objection is None:
                self.judged[number] = judged
            else:
                self.judged[number] = replace(self.judged[number], attack=None)
        self.case = before

    @staticmethod
    def _alive(judged: Judged) -> bool:
        return judged.refused is None and judged.objection is None and not judged.equal

    def _judge(self, mutants: Sequence[Mutant], chunk: int, *, deep: bool) -> None:
        case = self._carried()
        until = self.until if deep else math.inf
        tasks = [
            Task(case, tuple((m.number, m.blocks) for m in mutants[place : place + chunk]), deep, until)
            for place in range(0, len(mutants), chunk)
        ]
        done = 0
        words = "those that live, one by one" if deep else "against the stories at hand"
        for found in self._map(judge_all, tasks):
            for judged in found:
                self.judged[judged.number] = judged
                self.runs += judged.searched
            done += chunk if deep else len(found)
            self._tell(min(done, len(mutants)) if deep else len(self.judged), words, len(mutants) if deep else None)

    def _carried(self) -> bytes | Case:
        """The case as a task takes it along."""
        return self.case if self.pool is None else pickle.dumps(self.case)

    def _map(self, work: Callable[[T], R], tasks: Sequence[T]) -> Iterator[R]:
        return map(work, tasks) if self.pool is None else self.pool.map(work, tasks)

    def _confirm(self) -> None:
        """Kills that the reference engine does not see at the same instant are errors of ours, and no kills."""
        self._tell(len(self.judged), "replaying in the reference engine")
        killed = [j for j in self.judged.values() if j.objection is not None and j.number not in self.replayed]
        for numbers in self._map(confirmed, list(stacks_of(self.case, killed))):
            self.replayed.update(numbers)
        for judged in killed:
            if judged.number not in self.replayed:
                words = "internal error: the reference engine does not see what killed it; please report it"
                self.judged[judged.number] = replace(judged, objection=None, reason=words)

    def _tell(self, done: int, words: str, there: int | None = None) -> None:
        if self.progress is not None:
            self.progress(done, len(self.mutants) if there is None else there, words)

    # ----------------------------------------------------------------- results

    def results(self) -> Iterator[MutantResult]:
        suggestions = self._suggestions()
        for mutant in self.mutants:
            yield self._result(mutant, self.judged[mutant.number], suggestions.get(mutant.number))

    def _suggestions(self) -> dict[int, Suggestion | None]:
        """What would catch those that live."""
        self._tell(len(self.judged), "looking for what would catch the survivors")
        alive = [judged for judged in self.judged.values() if self._alive(judged)]
        case = self._carried()
        until = max(self.until, time.time() + SUGGEST_S)
        found = self._map(suggested, [SuggestTask(case, judged, self.blocks, until) for judged in alive])
        return {judged.number: suggestion for judged, suggestion in zip(alive, found, strict=True)}

    def _result(self, mutant: Mutant, judged: Judged, suggestion: Suggestion | None) -> MutantResult:
        result = MutantResult(
            number=mutant.number,
            kind=mutant.kind,
            rung=mutant.rung,
            change=mutant.change,
            changed=mutant.changed_lines,
            span=mutant.span,
            fate="survivor",
            warned=judged.warned,
        )
        if judged.refused is not None:
            return replace(result, fate="refused", by=judged.refused.code, reason=judged.refused.message)
        if judged.equal:
            return replace(result, fate="equal", reason=judged.reason)
        if judged.objection is not None:
            objection = judged.objection
            title = f"kills mutant {mutant.number} at {time_words(objection.at_ms)}"
            story = story_block(self.program, objection.story, title, objection.by)
            return replace(result, fate="killed", by=objection.by, at_ms=objection.at_ms, story=story)
        return self._survivor(result, judged, suggestion)

    def _survivor(self, result: MutantResult, judged: Judged, suggestion: Suggestion | None) -> MutantResult:
        difference = judged.difference
        if difference is None:
            words = judged.reason or "no run showed what it does otherwise"
            return replace(result, fate="undecided", reason=words)
        words = (
            f"{difference.key} is {_value(difference.after)} where the original has {_value(difference.before)}, "
            f"at {time_words(difference.at_ms)}{'' if difference.replayed else _FAST}"
        )
        title = f"mutant {result.number} differs at {time_words(difference.at_ms)}"
        story = story_block(self.program, difference.story, title)
        return replace(
            result, differs=words, story=story, at_ms=difference.at_ms, suggestion=suggestion, reason=judged.reason
        )


#: Said of a story that the reference engine would take too long for.
_FAST = " (in the compiled engine; the story is too long for the reference engine)"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:.6g}" if isinstance(value, float) else str(value)
