"""Property-directed reachability (Bradley 2011; Eén, Mishchenko, Brayton 2011; from memory).

Frame i holds clauses true of every state that i transitions can reach. A state that leads to
`bad` is either shown unreachable from the frame before, and a clause that says so learnt, or
traced back to a start. Two equal frames are an invariant. Facts about whole numbers are
`x <= c`, so clauses stay short and their bounds can be widened.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.contract import Engine, Found, Result
from rungproof.logic.proofs.copies import Copy, Reading, new_solver, start_clauses
from rungproof.logic.proofs.encode_bits import Circuit
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.steps.operators import Scalar

#: A set of states: all its literals hold.
Cube = tuple[Literal, ...]
#: Failed attempts to leave a literal out of a clause before it is taken as it is.
PATIENCE = 12
#: The frame of clauses that follow from themselves: they hold at any depth.
FOREVER = -1
#: How many states in a row that lead to a goal are shut out first, to shut it out at any depth.
DETOURS = 3


@dataclass(frozen=True)
class _Goal:
    """States to be shown unreachable: under `given`, every one of them leads into `onward` (or to bad)."""

    cube: Cube
    given: dict[str, Scalar]
    onward: _Goal | None
    start: dict[str, Scalar]


def reach(bits: Bits, output: str, lemmas: Sequence[Clause] = ()) -> Engine:
    """Prove that no run shows `output`, or find one that does.

    `lemmas` are clauses over the rewritten Step's states that every reachable state fulfils; together
    with those that a proof gives they are an invariant.
    """
    return _Search(bits, output, lemmas).run()


def facts_of(bits: Bits, clause: Clause) -> Clause:
    """A clause over the rewritten Step's states, over those of the given one."""
    result = []
    for literal in clause:
        fact = bits.facts.get(literal.name) if not literal.minus else None
        result.append(literal if fact is None else fact if literal.holds else -fact)
    return tuple(sorted(result, key=str))


def own_of(bits: Bits, clauses: Iterable[Clause]) -> Iterator[Clause]:
    """Clauses over the given Step's states, over those of the rewritten one."""
    own = {(fact.name, fact.bound): (name, fact.holds) for name, fact in bits.facts.items()}
    for clause in clauses:
        yield tuple(
            Literal(own[(each.name, each.bound)][0], None, each.holds is own[(each.name, each.bound)][1])
            if (each.name, each.bound) in own
            else each
            for each in clause
        )


def implies(a: Literal, b: Literal) -> bool:
    """Whether a literal, true of a state, makes another true: `x <= 3` makes `x <= 5` true."""
    if a.names != b.names or a.holds is not b.holds or a.bound is None or b.bound is None:
        return a == b
    return a.bound <= b.bound if a.holds else a.bound >= b.bound


def within(small: Cube, large: Cube) -> bool:
    """Whether every state of `small` is one of `large`."""
    return all(any(implies(a, b) for a in small) for b in large)


class _Search:
    def __init__(self, bits: Bits, output: str, lemmas: Sequence[Clause] = ()) -> None:
        self.bits, self.output_name = bits, output
        step = bits.step
        roots = [*step.next.values(), step.outputs[output]]
        self.solver = new_solver()
        self.main = Copy(bits, Circuit(self.solver), roots)
        self.lifter = new_solver()
        self.lift = Copy(bits, Circuit(self.lifter), roots)
        # The mark and the clauses of what holds at any depth; then those of each frame.
        self.always = self.main.circuit.fresh()
        self.forever: list[Cube] = []
        self.marks = [self.main.circuit.fresh()]
        self.frames: list[list[Cube]] = [[]]
        for clause in start_clauses(bits):
            self.solver.add_clause([-self.marks[0], *(self.main.before_literal(each) for each in clause)])
        for clause in lemmas:
            self.solver.add_clause([self.main.before_literal(each) for each in clause])
        self.bad = self.main.output(output)
        self.found: Found | None = None
        self.order = 0

    # -------------------------------------------------------------------- main

    def run(self) -> Engine:
        if self.solver.solve([*self._frame(0), self.bad]):
            goal = self._goal(None)
            return Result("refuted", 1, found=Found(goal.start, self._given(goal)))
        yield 1
        while True:
            if not self.solver.solve([*self._frame(FOREVER), self.bad]):
                return self._proved(self.forever)
            self._open_frame()
            level = len(self.frames) - 1
            while self.solver.solve([*self._frame(level), self.bad]):
                for _ in self._block(self._goal(None), level):
                    yield None
                if self.found is not None:
                    return Result("refuted", len(self.found.given), found=self.found)
            fixed = None
            for at in range(1, level):
                self._push(at)
                yield None
                if not self.frames[at]:
                    fixed = at
                    break
            if fixed is not None:
                return self._proved([*self.forever, *(cube for frame in self.frames[fixed + 1 :] for cube in frame)])
            yield level + 1

    def _proved(self, cubes: Iterable[Cube]) -> Result:
        clauses = tuple(facts_of(self.bits, _negated(cube)) for cube in cubes)
        return Result("proved", len(self.frames), clauses)

    def _open_frame(self) -> None:
        self.frames.append([])
        self.marks.append(self.main.circuit.fresh())

    def _frame(self, level: int) -> list[int]:
        return [self.always] if level == FOREVER else [self.always, *self.marks[level:]]

    # ------------------------------------------------------------------- goals

    def _goal(self, onward: _Goal | None) -> _Goal:
        """The states found to lead into `onward` (or to bad), as many as one set of inputs can serve."""
        reading = Reading(self.solver)
        state, given = reading.values(self.main.state), reading.values(self.main.inputs)
        whole = self._whole(state)
        lift = self.lift
        if onward is None:
            contrary = [-lift.output(self.output_name)]
        else:
            contrary = [-lift.after_literal(each) for each in onward.cube]
        mark = lift.circuit.fresh()
        self.lifter.add_clause([-mark, *contrary])
        literals = {lift.before_literal(each): each for each in whole}
        fixed = self._inputs(given)
        if self.lifter.solve([mark, *fixed, *literals]):
            raise AssertionError("a transition has two outcomes")
        core = set(self.lifter.get_core() or ())
        self.lifter.add_clause([-mark])
        cube = tuple(each for solver_literal, each in literals.items() if solver_literal in core)
        return _Goal(cube, given, onward, state)

    def _whole(self, state: dict[str, Scalar]) -> list[Literal]:
        literals: list[Literal] = []
        for each in self.bits.step.states.values():
            value = state[each.name]
            if each.type == "bool":
                literals.append(Literal(each.name, None, bool(value)))
                continue
            if value < each.high:
                literals.append(Literal(each.name, int(value)))
            if value > each.low:
                literals.append(Literal(each.name, int(value) - 1, False))
        return literals

    def _inputs(self, given: dict[str, Scalar]) -> list[int]:
        fixed = []
        for name, encoded in self.lift.inputs.items():
            bits = (encoded,) if isinstance(encoded, int) else encoded
            value = int(given[name])
            fixed += [bit if value >> place & 1 else -bit for place, bit in enumerate(bits)]
        return fixed

    def _given(self, goal: _Goal | None) -> tuple[dict[str, Scalar], ...]:
        """What is given at each transition from a goal to bad."""
        given = []
        while goal is not None:
            given.append(goal.given)
            goal = goal.onward
        return tuple(given)

    # ---------------------------------------------------------------- blocking

    def _block(self, goal: _Goal, level: int) -> Iterable[None]:
        """Show that `goal` is out of reach at `level`, or set `found`."""
        queue: list[tuple[int, int, _Goal]] = [(level, 0, goal)]
        while queue:
            at, _, goal = heapq.heappop(queue)
            start = goal.start if at == 0 else self._start_in(goal.cube)
            if start is not None:
                self.found = Found(start, self._given(goal))
                return
            self.order += 1
            if self._blocked(goal.cube, at):
                self._again(queue, at, goal, level)
                continue
            yield None
            core = self._inductive(goal.cube, at - 1)
            if core is None:
                heapq.heappush(queue, (at - 1, self.order, self._goal(goal)))
                heapq.heappush(queue, (at, self.order, goal))
                continue
            eternal = self._eternal(goal, DETOURS)
            if eternal is not None:
                self._learn(self._generalised(eternal, FOREVER), FOREVER)
                self._again(queue, at, goal, level)
                continue
            cube = self._generalised(core, at - 1)
            while at < level and self._inductive(cube, at) is not None:
                at += 1
            self._learn(cube, at)
            self._again(queue, at, goal, level)

    def _eternal(self, goal: _Goal, detours: int) -> Cube | None:
        """The part of a goal that can be shut out at any depth, if need be after the states that lead to it."""
        for _ in range(detours + 1):
            core = self._inductive(goal.cube, FOREVER)
            if core is not None or not detours:
                return core
            before = self._goal(goal)
            if self._starts_in(before.cube):
                return None
            eternal = self._eternal(before, detours - 1)
            if eternal is None:
                return None
            self._learn(self._generalised(eternal, FOREVER), FOREVER)
        return None

    def _again(self, queue: list[tuple[int, int, _Goal]], at: int, goal: _Goal, level: int) -> None:
        if at < level:
            heapq.heappush(queue, (at + 1, self.order, goal))

    def _blocked(self, cube: Cube, level: int) -> bool:
        return any(within(cube, each) for frame in (*self.frames[level:], self.forever) for each in frame)

    def _inductive(self, cube: Cube, level: int) -> Cube | None:
        """Where no state of frame `level` outside `cube` leads into it: the part of `cube` that this rests on,
        made so that no start lies in it. None where one does."""
        mark = self.main.circuit.fresh()
        self.solver.add_clause([-mark, *(-self.main.before_literal(each) for each in cube)])
        literals = {self.main.after_literal(each): each for each in cube}
        leads = self.solver.solve([mark, *self._frame(level), *literals])
        core = set() if leads else set(self.solver.get_core() or ())
        if leads:
            return None
        self.solver.add_clause([-mark])
        small = tuple(each for solver_literal, each in literals.items() if solver_literal in core)
        return self._apart_from_start(small, cube)

    def _starts_in(self, cube: Iterable[Literal]) -> bool:
        return bool(self.solver.solve([self.marks[0], *(self.main.before_literal(each) for each in cube)]))

    def _start_in(self, cube: Cube) -> dict[str, Scalar] | None:
        """A start among the states of `cube`."""
        return Reading(self.solver).values(self.main.state) if self._starts_in(cube) else None

    def _apart_from_start(self, small: Cube, whole: Cube) -> Cube:
        """`small`, with literals of `whole` (which holds no start) until it holds none either."""
        if not self._starts_in(small):
            return small
        chosen = list(small)
        for each in whole:
            if each not in chosen:
                chosen.append(each)
                if not self._starts_in(chosen):
                    break
        return tuple(chosen)

    def _generalised(self, cube: Cube, level: int) -> Cube:
        """Fewer literals and wider bounds, as long as the clause still follows."""
        size = len(cube) // 2
        while size > 0:
            cube = self._without_pieces(cube, size, level)
            size = min(size // 2, len(cube) // 2)
        for each in cube:
            if each.bound is not None:
                cube = self._widened(cube, each, level)
        return cube

    def _without_pieces(self, cube: Cube, size: int, level: int) -> Cube:
        """Leave out pieces of so many literals, wherever the clause still follows without."""
        failures, place = 0, 0
        while place < len(cube) and failures < PATIENCE:
            smaller = self._kept(cube[:place] + cube[place + size :], level)
            if smaller is None:
                failures, place = failures + 1, place + size
            else:
                cube = smaller
        return cube

    def _kept(self, cube: Cube, level: int) -> Cube | None:
        if not cube or self._starts_in(cube):
            return None
        return self._inductive(cube, level)

    def _widened(self, cube: Cube, literal: Literal, level: int) -> Cube:
        """The bound of one literal moved outward in growing strides while the clause still follows."""
        state = self.bits.step.states[literal.name]
        stride, best = 1, literal
        while stride:
            assert best.bound is not None
            bound = best.bound + stride if best.holds else best.bound - stride
            inside = bound < state.high if best.holds else bound >= state.low
            wider = Literal(literal.name, bound, literal.holds)
            attempt = tuple(wider if each == best else each for each in cube)
            if inside and not self._starts_in(attempt) and self._inductive(attempt, level) is not None:
                cube, best, stride = attempt, wider, stride * 2
            elif stride > 1:
                stride //= 2
                if stride == 1:
                    break
            else:
                break
        return cube

    def _learn(self, cube: Cube, level: int) -> None:
        for at in range(1, len(self.frames) if level == FOREVER else level + 1):
            self.frames[at] = [each for each in self.frames[at] if not within(each, cube)]
        if level == FOREVER:
            self.forever = [each for each in self.forever if not within(each, cube)]
        (self.forever if level == FOREVER else self.frames[level]).append(cube)
        mark = self.always if level == FOREVER else self.marks[level]
        self.solver.add_clause([-mark, *(-self.main.before_literal(each) for each in cube)])

    def _push(self, level: int) -> None:
        """Move to the next frame what follows there too."""
        for cube in list(self.frames[level]):
            literals = [self.main.after_literal(each) for each in cube]
            if cube in self.frames[level] and not self.solver.solve([*self._frame(level), *literals]):
                self._learn(cube, level + 1)


def _negated(cube: Sequence[Literal]) -> Clause:
    return tuple(-each for each in cube)
