"""How far one clock is ahead of another, to the last ms, while scans take longer or shorter.

A monitor counts the scan that has just ended, a timer the one before: what lies between them is the scan under way.
So the subject is `x - y`, less or more the last scan where the two count different ones, under up to two bools: it
changes only where a clock begins or ends. Its least upper bound is what runs have shown, raised by whatever a
transition from within all bounds together can reach, until none goes beyond (Reps, Sagiv, Yorsh 2004; from memory):
nothing has to be guessed, neither a number nor, of a long sequence, that it was gone through.

From below the bounds say how long a sequence takes at least, from above how late an answer can be.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from rungproof.logic.proofs.chance import states_drawn
from rungproof.logic.proofs.contract import Engine, Result, only_working
from rungproof.logic.proofs.copies import Copy, Reading, new_solver
from rungproof.logic.proofs.encode_bits import Circuit, fitted
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.pairs import lemmas_of_pairs
from rungproof.logic.proofs.reach import facts_of, own_of, reach
from rungproof.logic.proofs.system import LAST_SCAN, SCAN_TICKS, System
from rungproof.logic.proofs.tape import Column
from rungproof.logic.proofs.thresholds import Bits
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import StateVariable, Step

#: Clocks taken, bools near a clock that it is held against under, and transitions of the runs bounds begin from.
MOST_CLOCKS, MOST_GUARDS, STEPS = 120, 3, 200
#: How often a bound is raised before nothing is said of it, and the ms that scans may differ by.
MOST_RISES, WIDEST_SCAN = 60, 64


def leads(system: System, coarse: Bits, bits: Bits, output: str) -> Engine:
    """Prove that no run shows `output`, with bounds on the leads of clocks; never refutes."""
    clocks = _clocks(bits)
    subjects = [] if not clocks else _subjects(bits, clocks)
    if not subjects:
        return Result("unknown", 0)
    lemmas: list[Clause] = []
    for _ in lemmas_of_pairs(system, coarse, output, lemmas):
        yield None
    own = [clause for clause in lemmas if all(each.name in bits.step.states for each in clause)]
    bounds = _Bounds(replace(system, step=bits.step), bits, output, subjects, own)
    for _ in bounds.rise():
        yield None
    bounds.forget_what_others_say()
    result = yield from only_working(reach(bits, output, [*own, *bounds.clauses(bounds.marks)]))
    if result.word != "proved":
        return Result("unknown", 0)
    clauses = bounds.enough([*own, *own_of(bits, result.clauses)])
    return Result("proved", result.depth, tuple(facts_of(bits, clause) for clause in clauses))


# ----------------------------------------------------------------------- subjects


@dataclass(frozen=True)
class _Clock:
    """A state that becomes more of itself; `now` where it counts the scan that has just ended."""

    state: StateVariable
    now: bool

    @property
    def name(self) -> str:
        return self.state.name

    @property
    def of_a_monitor(self) -> bool:
        return "/" in self.name


@dataclass(frozen=True)
class _Subject:
    """`x - y - last * scan` (ms), while all of `guards` hold."""

    guards: Clause
    x: str
    y: str
    last: int

    def of(self, state: Mapping[str, Scalar]) -> int:
        scan = self.last * int(state[LAST_SCAN]) if self.last else 0
        return int(state[self.x]) - int(state[self.y]) - scan

    def clauses(self, bound: int, scans: StateVariable | None) -> Iterator[Clause]:
        """`bound` is not exceeded, as facts of two clocks each: one for every length of the last scan."""
        unless = tuple(-each for each in self.guards)
        if scans is None or not self.last:
            yield (*unless, Literal(self.x, bound, True, self.y))
            return
        for scan in range(int(scans.low), int(scans.high) + 1):
            other = self._beyond(scan, scans)
            yield (*unless, *other, Literal(self.x, bound + self.last * scan, True, self.y))

    def _beyond(self, scan: int, scans: StateVariable) -> Clause:
        """The last scan is one that allows more; nothing for the scan that allows most."""
        if self.last > 0:
            return (Literal(LAST_SCAN, scan, False),) if scan < scans.high else ()
        return (Literal(LAST_SCAN, scan - 1),) if scan > scans.low else ()


def _clocks(bits: Bits) -> list[_Clock]:
    found = []
    for each in bits.step.states.values():
        if each.type == "int" and each.name not in bits.free and each.name in bits.step.next:
            added = _added(bits.step, each)
            if added:
                now = any(n.operator == "variable" and n.name == SCAN_TICKS for n in ordered(added))
                found.append(_Clock(each, now))
    return sorted(found, key=lambda each: not each.of_a_monitor)[:MOST_CLOCKS]


def _added(step: Step, clock: StateVariable) -> list[Node]:
    """What is added to a clock to make it more."""
    sums = [n for n in ordered([step.next[clock.name]]) if n.operator == "add" and clock.node in n.operands]
    return [each for node in sums for each in node.operands if each is not clock.node]


def _subjects(bits: Bits, clocks: Sequence[_Clock]) -> list[_Subject]:
    """A monitor's clock against every other, both ways: alone, and under bools that the two read."""
    scans = bits.step.states.get(LAST_SCAN)
    found: dict[_Subject, None] = {}
    near = {each.name: _near(bits, each) for each in clocks}
    for one in (each for each in clocks if each.of_a_monitor):
        for other in clocks:
            if other is one:
                continue
            for x, y in ((one, other), (other, one)):
                last = int(x.now) - int(y.now) if scans is not None else 0
                if last and scans is not None and scans.high - scans.low > WIDEST_SCAN:
                    continue
                goes = (Literal(y.name, int(y.state.high) - 1),)
                for guards in _guards(near[one.name], near[other.name]):
                    found[_Subject((*guards, *goes), x.name, y.name, last)] = None
    return list(found)


def _guards(some: Sequence[str], others: Sequence[str]) -> Iterator[Clause]:
    yield ()
    for name in dict.fromkeys((*some, *others)):
        yield (Literal(name),)
    for one in some:
        for other in others:
            if one != other:
                yield (Literal(one), Literal(other))
                yield (Literal(one), Literal(other, None, False))


def _near(bits: Bits, clock: _Clock) -> list[str]:
    """The bool states that a clock reads soonest."""
    step = bits.step
    queue = deque([step.next[clock.name]])
    seen, found = set(queue), list[str]()
    while queue and len(found) < MOST_GUARDS:
        node = queue.popleft()
        if node.operator == "variable" and node.type == "bool" and node.name in step.states.keys() - bits.free:
            found.append(node.name)
        queue.extend(each for each in node.operands if each not in seen)
        seen.update(node.operands)
    return found


# ------------------------------------------------------------------------- bounds


class _Bounds:
    """The least bounds of subjects that hold together with `lemmas`."""

    def __init__(
        self, system: System, bits: Bits, output: str, subjects: Sequence[_Subject], lemmas: Sequence[Clause]
    ) -> None:
        self.step, self.output = bits.step, output
        self.solver = new_solver()
        self.copy = Copy(bits, Circuit(self.solver), [*self.step.next.values(), self.step.outputs[output]])
        self.lemmas = self.copy.circuit.fresh()
        for clause in lemmas:
            self.solver.add_clause([-self.lemmas, *(self.copy.before_literal(each) for each in clause)])
        self.differences: dict[tuple[str, str, int, bool], tuple[int, ...]] = {}
        rows = states_drawn(system, bits, seed=0, steps=STEPS, steady=True)
        self.bounds = {each: self._seen(each, rows) for each in subjects}
        self.rises = dict.fromkeys(subjects, 0)
        self.marks: dict[_Subject, tuple[int, int]] = {}
        for each in subjects:
            self._set(each, self.bounds[each])

    def _span(self, subject: _Subject) -> tuple[int, int]:
        """What a subject lies within, whatever happens."""
        x, y = self.step.states[subject.x], self.step.states[subject.y]
        ends = [0] if not subject.last else [subject.last * int(e) for e in self._scan]
        return int(x.low) - int(y.high) - max(ends), int(x.high) - int(y.low) - min(ends)

    @property
    def _scan(self) -> tuple[float | int, float | int]:
        each = self.step.states[LAST_SCAN]
        return each.low, each.high

    def _seen(self, subject: _Subject, rows: Mapping[str, Column]) -> int:
        """The greatest value that came; one below any where the guards never held."""
        holds = np.ones(len(rows[subject.x]), bool)
        for each in subject.guards:
            column = rows[each.name]
            holds &= (column if each.bound is None else column <= each.bound) == each.holds
        if not holds.any():
            return self._span(subject)[0] - 1
        value = rows[subject.x] - rows[subject.y]
        if subject.last:
            value = value - subject.last * rows[LAST_SCAN]
        return int(value[holds].max())

    def _set(self, subject: _Subject, bound: int) -> None:
        """Assume a bound from now on, or nothing where it says nothing."""
        self.marks.pop(subject, None)
        self.bounds[subject] = bound
        if bound >= self._span(subject)[1]:
            return
        mark, broken = self.copy.circuit.fresh(), self.copy.circuit.fresh()
        before = [-self.copy.before_literal(each) for each in subject.guards]
        self.solver.add_clause([-mark, *before, self._at_most(subject, bound, False)])
        for each in subject.guards:
            self.solver.add_clause([-broken, self.copy.after_literal(each)])
        self.solver.add_clause([-broken, -self._at_most(subject, bound, True)])
        self.marks[subject] = mark, broken

    def _at_most(self, subject: _Subject, bound: int, after: bool) -> int:
        key = subject.x, subject.y, subject.last, after
        if key not in self.differences:
            self.differences[key] = self._difference(subject, self.copy.after() if after else self.copy.state)
        value = self.differences[key]
        return self.copy.circuit.less(value, self.copy.circuit.number(bound, bound.bit_length() + 1), or_equal=True)

    def _difference(self, subject: _Subject, values: Mapping[str, object]) -> tuple[int, ...]:
        circuit, low_high = self.copy.circuit, self._span(subject)
        wide = max(abs(end) for end in low_high).bit_length() + 2
        x, y, scan = (values.get(name) for name in (subject.x, subject.y, LAST_SCAN))
        assert isinstance(x, tuple), "clocks are numbers"
        assert isinstance(y, tuple), "clocks are numbers"
        result = circuit.sum(fitted(x, wide), tuple(-bit for bit in fitted(y, wide)), circuit.TRUE)
        if subject.last:
            assert isinstance(scan, tuple), "the last scan is a number"
            other = fitted(scan, wide)
            less = subject.last > 0
            other = tuple(-bit for bit in other) if less else other
            result = circuit.sum(result, other, circuit.TRUE if less else -circuit.TRUE)
        return result

    def rise(self) -> Iterator[None]:
        """Raise bounds until no transition from within all of them goes beyond one; yields between two questions."""
        while self.marks:
            yield None
            ask = self.copy.circuit.fresh()
            self.solver.add_clause([-ask, *(broken for _, broken in self.marks.values())])
            if not self.solver.solve([ask, self.lemmas, *(mark for mark, _ in self.marks.values())]):
                return
            after = Reading(self.solver).values(self.copy.after())
            self.solver.add_clause([-ask])
            for each in list(self.marks):
                value = each.of(after)
                if value > self.bounds[each] and all(guard.true_in(after) for guard in each.guards):
                    self.rises[each] += 1
                    top = self._span(each)[1]
                    self._set(each, value if self.rises[each] < MOST_RISES else top)

    def forget_what_others_say(self) -> None:
        """Leave out bounds that are no less than others under fewer guards."""
        said: dict[tuple[str, str], list[tuple[frozenset[Literal], int]]] = {}
        for each in sorted(self.marks, key=lambda each: len(each.guards)):
            guards, bound = frozenset(each.guards), self.bounds[each]
            others = said.setdefault((each.x, each.y), [])
            if any(fewer <= guards and least <= bound for fewer, least in others):
                del self.marks[each]
            else:
                others.append((guards, bound))

    def clauses(self, subjects: Iterable[_Subject]) -> Iterator[Clause]:
        scans = self.step.states.get(LAST_SCAN)
        for each in subjects:
            yield from each.clauses(self.bounds[each], scans)

    def enough(self, clauses: Iterable[Clause]) -> list[Clause]:
        """Of the bounds and `clauses`, which follow from themselves together, enough to keep the output off."""
        units: dict[int, tuple[Clause | _Subject, list[int]]] = {}
        for clause in dict.fromkeys(clauses):
            mark = self.copy.circuit.fresh()
            self.solver.add_clause([-mark, *(self.copy.before_literal(each) for each in clause)])
            units[mark] = clause, [-self.copy.after_literal(each) for each in clause]
        units |= {mark: (each, [broken]) for each, (mark, broken) in self.marks.items()}
        wanted = dict.fromkeys(self._core(units, [self.copy.output(self.output)]))
        pending = list(wanted)
        while pending and len(wanted) < len(units):
            for mark in self._core(units, units[pending.pop()][1]):
                if mark not in wanted:
                    wanted[mark] = None
                    pending.append(mark)
        kept = [units[mark][0] for mark in wanted]
        plain = [each for each in kept if not isinstance(each, _Subject)]
        return [*plain, *self.clauses(each for each in kept if isinstance(each, _Subject))]

    def _core(self, units: Iterable[int], goal: list[int]) -> list[int]:
        if self.solver.solve([*goal, *units]):
            raise AssertionError("the bounds do not follow from themselves")
        core = set(self.solver.get_core() or ())
        return [mark for mark in units if mark in core]
