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
from itertools import islice

import numpy as np
from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.chance import states_drawn, states_undisturbed
from rungproof.logic.proofs.contract import Engine, Result, only_working
from rungproof.logic.proofs.copies import Copy, Reading, new_solver
from rungproof.logic.proofs.encode_bits import Circuit, fitted
from rungproof.logic.proofs.houdini import needed
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.near import nearest_states
from rungproof.logic.proofs.pairs import MOST_REACH, lemmas_of_pairs
from rungproof.logic.proofs.reach import facts_of, own_of, reach
from rungproof.logic.proofs.signs import signs_in
from rungproof.logic.proofs.system import FIRST, LAST_SCAN, SCAN_TICKS, System
from rungproof.logic.proofs.tape import Column
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import StateVariable, Step

#: Clocks taken, bools that a clock reads and that read it, under which it is held against others; transitions of the
#: runs that bounds begin from, disturbed and not.
MOST_CLOCKS, MOST_GUARDS, MOST_READERS, STEPS, MOST_STEPS = 120, 2, 2, 120, 2000
#: How the states of monitors end that say that an obligation stands.
STANDS = ("/open", "/stands", "/armed")
#: Subjects taken: the more, the dearer each question.
MOST_SUBJECTS = 5000
#: How often a bound is raised before nothing is said of it, and the ms that scans may differ by.
MOST_RISES, WIDEST_SCAN = 60, 64


def leads(system: System, coarse: Bits, bits: Bits, output: str) -> Engine:
    """Prove that no run shows `output`, with bounds on the leads of clocks; never refutes."""
    clocks = _clocks(bits, output)
    subjects = [] if not clocks else _subjects(bits, output, clocks)
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
    result = yield from only_working(reach(bits, output, [*own, *bounds.clauses(bounds.marks)]), MOST_REACH)
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
    """`x - y - last * scan` (ms), or `x` alone, while all of `guards` hold."""

    guards: Clause
    x: str
    y: str
    last: int

    def of(self, state: Mapping[str, Scalar]) -> int:
        scan = self.last * int(state[LAST_SCAN]) if self.last else 0
        return int(state[self.x]) - (int(state[self.y]) if self.y else 0) - scan

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


def _clocks(bits: Bits, output: str) -> list[_Clock]:
    """The clocks, those of monitors first, then those that the output depends on soonest."""
    found = []
    for each in nearest_states(bits.step, output):
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


def _subjects(bits: Bits, output: str, clocks: Sequence[_Clock]) -> list[_Subject]:
    """A monitor's clock against every other, in the way in which it can make the output come on, and every clock by
    itself: alone, and under bools near them."""
    scans = bits.step.states.get(LAST_SCAN)
    read_by = _readers(bits, clocks)
    near = {each.name: list(dict.fromkeys([*_read(bits, each), *read_by[each.name]])) for each in clocks}
    stands = [name for name in bits.step.states if name.endswith(STANDS)]
    owed = {name.partition("/")[0]: name for name in stands}
    ages = [each for each in clocks if each.of_a_monitor and each.name.partition("/")[0] in owed]
    if not ages:
        return []
    signs = signs_in(bits.step.outputs[output])
    matters = {each.name: signs.get(each.state.node, {1, -1}) for each in ages}
    found: dict[_Subject, None] = {}
    for each in clocks:
        if not each.of_a_monitor:
            found |= dict.fromkeys(_Subject(guards, each.name, "", 0) for guards in _alone(near[each.name]))
    for one in ages:
        for other in (each for each in clocks if each is not one):
            ways = ((one, other), (other, one))
            for x, y in (way for way, sign in zip(ways, (1, -1), strict=True) if sign in matters[one.name]):
                last = int(x.now) - int(y.now) if scans is not None else 0
                if last and scans is not None and scans.high - scans.low > WIDEST_SCAN:
                    continue
                goes = (Literal(y.name, int(y.state.high) - 1),)
                for guards in _together(owed[one.name.partition("/")[0]], near[other.name]):
                    found[_Subject((*guards, *goes), x.name, y.name, last)] = None
    return list(found)[:MOST_SUBJECTS]


def _alone(names: Iterable[str]) -> Iterator[Clause]:
    yield ()
    for name in names:
        yield from ((Literal(name),), (Literal(name, None, False),))


def _together(owed: str, others: Sequence[str]) -> Iterator[Clause]:
    """While something is owed, and under one bool more: what a monitor counts while nothing is says nothing."""
    yield (Literal(owed),)
    for other in others:
        yield from ((Literal(owed), Literal(other)), (Literal(owed), Literal(other, None, False)))


def _read(bits: Bits, clock: _Clock) -> list[str]:
    """The bool states that a clock reads soonest."""
    found = (n.name for n in _soonest(bits, bits.step.next[clock.name]) if n.type == "bool")
    return list(islice((name for name in found if name not in bits.free | {FIRST}), MOST_GUARDS))


def _readers(bits: Bits, clocks: Sequence[_Clock]) -> dict[str, list[str]]:
    """For each clock the bool states that read it before any other."""
    found: dict[str, list[str]] = {each.name: [] for each in clocks}
    for name, node in bits.step.next.items():
        if node.type == "bool" and name not in bits.free:
            first = next((each.name for each in _soonest(bits, node) if each.name in found), None)
            if first is not None and len(found[first]) < MOST_READERS:
                found[first].append(name)
    return found


def _soonest(bits: Bits, node: Node) -> Iterator[Node]:
    """The states that a node reads, the nearest first."""
    queue = deque([node])
    seen = {node}
    while queue:
        node = queue.popleft()
        if node.operator == "variable" and node.name in bits.step.states:
            yield node
        queue.extend(each for each in dict.fromkeys(node.operands) if each not in seen)
        seen.update(node.operands)


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
        some = states_drawn(system, bits, seed=0, steps=STEPS)
        others = states_undisturbed(system, bits, seed=0, most=MOST_STEPS)
        rows = {name: np.concatenate([column, others[name]]) for name, column in some.items()}
        self.bounds = {each: self._seen(each, rows) for each in subjects}
        self.rises = dict.fromkeys(subjects, 0)
        self.marks: dict[_Subject, tuple[int, int]] = {}
        for each in subjects:
            self._set(each, self.bounds[each])

    def _span(self, subject: _Subject) -> tuple[int, int]:
        """What a subject lies within, whatever happens."""
        x = self.step.states[subject.x]
        if not subject.y:
            return int(x.low), int(x.high)
        y = self.step.states[subject.y]
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
        value = rows[subject.x] - rows[subject.y] if subject.y else rows[subject.x]
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
        if not subject.y:
            return x
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
            units[self.copy.assumed(clause)] = clause, [-self.copy.after_literal(each) for each in clause]
        units |= {mark: (each, [broken]) for each, (mark, broken) in self.marks.items()}
        first = self._core(units, [self.copy.output(self.output)])
        wanted = needed(first, lambda mark: self._core(units, units[mark][1]), len(units))
        kept = [units[mark][0] for mark in wanted]
        plain = [each for each in kept if not isinstance(each, _Subject)]
        return [*plain, *self.clauses(each for each in kept if isinstance(each, _Subject))]

    def _core(self, units: Iterable[int], goal: list[int]) -> list[int]:
        if self.solver.solve([*goal, *units]):
            raise AssertionError("the bounds do not follow from themselves")
        core = set(self.solver.get_core() or ())
        return [mark for mark in units if mark in core]
