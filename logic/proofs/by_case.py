"""A proof from case to case: each value of one number that never changes gives a smaller system, proved by itself.

Which fault it is that a machine has, say: with that one known, all others fold away. Cases that fold to the same
system are one. What is proved of a case is true of the whole under `unless it is another case`; the second solver
is asked about the whole.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.case_whole import AllCases
from rungproof.logic.proofs.contract import Result
from rungproof.logic.proofs.houdini import Houdini, trimmed
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.portfolio import Answer, Forms, Tell, decide
from rungproof.logic.proofs.reach import facts_of, own_of, reach
from rungproof.logic.proofs.run import Run
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import Node, constant
from rungproof.logic.steps.step import Step

#: Least seconds for a case, and the share of the time that one may take.
LEAST_S, LONGEST_CASE = 1.0, 0.25
#: Questions that a search from what is known may ask before the case is decided by itself.
MOST_MORE = 1500
#: Ticks that a clock may count for guesses about them.
MOST_MARKS = 64
KNOWN = "reachability from what served other cases"


def decide_by_cases(
    system: System,
    output: str,
    time_s: float,
    tell: Tell = lambda depth: None,
    *,
    rationed: bool = False,
    any_run: bool = False,
) -> Answer:
    """Whether any run of `system` shows `output`, case by case where it has cases. `any_run`: see `decide`."""
    if system.case not in system.step.states:
        return decide(system, output, time_s, tell, rationed=rationed, any_run=any_run)
    return _Cases(system, output, time_s, rationed, any_run).run()


@dataclass
class _Cases:
    system: System
    output: str
    time_s: float
    rationed: bool
    any_run: bool = False
    began: float = field(default_factory=time.monotonic)
    found: dict[Clause, list[int]] = field(default_factory=dict)

    def run(self) -> Answer:
        state = self.system.step.states[self.system.case]
        worked, depth = time.thread_time(), 0
        groups: dict[tuple[Node, ...], list[int]] = {}
        steps: dict[tuple[Node, ...], Step] = {}
        for value in range(int(state.low), int(state.high) + 1):
            step = self.system.step.given({self.system.case: constant(value)}).slice([self.output])
            key = (step.outputs[self.output], *step.next.values())
            groups.setdefault(key, []).append(value)
            steps[key] = step
        for place, (key, values) in enumerate(groups.items(), start=1):
            left = self.time_s - (time.thread_time() - worked)
            if left <= 0:
                return self._unknown(f"the time was up after {self._done} of {len(groups)} cases")
            answer = self._again(values[0]) or self._decided(steps[key], self._for_a_case(left))
            if answer.word == "refuted" and answer.run is not None:
                return self._refuted(answer, values[0])
            if answer.word != "proved":
                return self._unknown(f"{answer.why}, in case {place} of {len(groups)}")
            depth = max(depth, answer.depth)
            if self._whole is not None:
                self._whole.serve(answer.clauses)
            for clause in answer.clauses:
                self.found.setdefault(clause, []).extend(values)
        clauses = tuple(self._guarded(int(state.low), int(state.high)))
        return Answer("proved", f"{answer.engine}, case by case", self._spent(), depth, clauses)

    def _for_a_case(self, left: float) -> float:
        """One that takes so long is not decided soon, and neither are the others, which are like it."""
        return max(min(left, LONGEST_CASE * self.time_s), LEAST_S)

    @cached_property
    def _whole(self) -> AllCases | None:
        """All cases in one; None where the number of the case has no place of its own there."""
        forms = Forms(self.system, self.output)
        known = self.system.case in forms.fine.step.states
        return AllCases(forms.system, forms.fine, self.output) if known else None

    def _again(self, case: int) -> Answer | None:
        """A proof of another case that is one of this."""
        clauses = self._whole.proof(case) if self.found and self._whole is not None else None
        return None if clauses is None else Answer("proved", KNOWN, 0.0, 1, clauses)

    def _decided(self, step: Step, time_s: float) -> Answer:
        free = self.system.free_starts & step.states.keys()
        case = replace(self.system, step=step, bad=self.output, triggered=self.output, free_starts=free, case="")
        known = self._by_what_is_known(case) if self.found else None
        if known is not None:
            return known
        return decide(case, self.output, time_s, rationed=self.rationed, any_run=self.any_run)

    def _by_what_is_known(self, case: System) -> Answer | None:
        """A proof from clauses that served other cases, those of them that follow from themselves here; with a
        few more, if a short search finds them."""
        bits = Forms(case, self.output).fine
        kept = Houdini(bits, self.output)
        for _ in kept.drop_what_breaks(own_of(bits, [*self._pool(case, bits), *_grid(case)])):
            pass
        search = reach(bits, self.output, kept.clauses)
        for _ in range(MOST_MORE):
            try:
                next(search)
            except StopIteration as end:
                result: Result = end.value
                if result.word != "proved":
                    return None
                clauses = trimmed(bits, self.output, [*kept.clauses, *own_of(bits, result.clauses)])
                return Answer("proved", KNOWN, 0.0, result.depth, tuple(facts_of(bits, each) for each in clauses))
        return None

    def _pool(self, case: System, bits: Bits) -> list[Clause]:
        """The clauses found so far that speak of states which the rewritten case has, and which begin as they say."""
        there = {(fact.name, fact.bound) for fact in bits.facts.values()}
        names = bits.step.states.keys() - bits.free
        return [
            clause
            for clause in self.found
            if all(
                (names.issuperset(each.names) or (each.name, each.bound) in there)
                and case.free_starts.isdisjoint(each.names)
                for each in clause
            )
        ]

    def _refuted(self, answer: Answer, value: int) -> Answer:
        assert answer.run is not None
        run = Run({**answer.run.starts, self.system.case: value}, answer.run.given)
        return replace(answer, run=run, seconds=self._spent(), shortest=False)

    def _guarded(self, low: int, high: int) -> Iterator[Clause]:
        """Each clause for the cases that it was proved in: `unless the case is before or after these`."""
        for clause, values in self.found.items():
            for first, last in _runs(sorted(values)):
                before = (Literal(self.system.case, first - 1),) if first > low else ()
                after = (Literal(self.system.case, last, False),) if last < high else ()
                yield (*before, *after, *clause)

    @property
    def _done(self) -> int:
        return len({value for values in self.found.values() for value in values})

    def _unknown(self, why: str) -> Answer:
        return Answer("unknown", "", self._spent(), 0, why=why)

    def _spent(self) -> float:
        return time.monotonic() - self.began


def _grid(case: System) -> Iterator[Clause]:
    """Guesses that a clock only stands at whole ticks: a search would come to them one by one."""
    tick = case.tick
    for each in case.step.states.values():
        if each.type == "int" and tick > 1 and each.high - each.low <= MOST_MARKS * tick and each.low % tick == 0:
            for low in range(int(each.low), int(each.high), tick):
                above = (Literal(each.name, low + tick - 1, False),) if low + tick <= each.high else ()
                yield (Literal(each.name, low), *above)


def _runs(values: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Stretches of consecutive whole numbers: 1 2 3 7 8 gives (1, 3) and (7, 8)."""
    first = last = None
    for value in values:
        if last is not None and first is not None and value != last + 1:
            yield first, last
            first = value
        first, last = value if first is None else first, value
    if first is not None and last is not None:
        yield first, last
