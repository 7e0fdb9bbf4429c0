"""All states there are, by joining: every rung meets only the inputs that it reads, and what nothing
reads any more is forgotten at once.

A layer of states is a table of rows, each one 64-bit word. What a state variable becomes is worked out
for one variable after another. An input enters the table when it is first read, once for each of its
values; as soon as nothing that is still to be worked out reads it, it leaves, and rows that have become equal become
one. So most combinations of inputs are never written out, though all of them are covered (early
quantification, as in symbolic model checking; Burch, Clarke, Long 1991; from memory).
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from rungproof.logic.proofs.explicit import TooLargeError
from rungproof.logic.proofs.tape import TYPES, Column, Tape
from rungproof.logic.steps.intervals import intervals_of, ranges
from rungproof.logic.steps.node import ON, Node, ordered
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

#: Bits of a row; states at most; rows that one pass begins with, and the most that it may grow to.
WORD, MOST_STATES, ROWS, MOST_ROWS = 63, 20_000_000, 2**15, 2**24
#: Values of one input, and of one free start, that are tried.
MOST_VALUES = 4096


@dataclass(frozen=True)
class Joined:
    """What was found: states reached, layers of them, the transitions from them (each with every combination
    of inputs), rows that were worked out for it, and the fewest steps before one that shows `bad` (None: none does)."""

    states: int
    layers: int
    transitions: int
    rows: int
    depth: int | None


@dataclass(frozen=True)
class _Move:
    """One target worked out: inputs that enter, the values read, the tape, and what is kept afterwards."""

    enter: tuple[Node, ...]
    read: tuple[Node, ...]
    tape: Tape
    target: Node
    before: tuple[Node, ...]
    after: tuple[Node, ...]
    forgets: bool


class _Layout:
    """Where in a word each value lies; what is free between them is nought in every row."""

    def __init__(self, nodes: Iterable[Node], spans: dict[Node, tuple[int, int]]) -> None:
        self.spans = spans
        self.places: dict[Node, tuple[int, int, int]] = {}
        self.used = 0
        for node in nodes:
            if not self._place(node):
                self._refuse()

    def _place(self, node: Node) -> bool:
        """Give a value the lowest place that is free; whether there is one."""
        low, high = self.spans[node]
        width = (high - low).bit_length()
        mask = (1 << width) - 1
        for at in range(WORD - width + 1):
            if not self.used & mask << at:
                self.places[node] = at, width, low
                self.used |= mask << at
                return True
        return False

    def _refuse(self) -> None:
        bits = sum((high - low).bit_length() for low, high in map(self.spans.__getitem__, self.places))
        raise TooLargeError(f"a state and what is read beside it take more than {bits} bits, and {WORD} is the most")

    def changed(self, without: Iterable[Node], more: Iterable[Node]) -> _Layout | None:
        """The same with some values gone and others come, all others where they were; None where none fits so."""
        new = _Layout((), self.spans)
        gone = set(without)
        new.places = {node: place for node, place in self.places.items() if node not in gone}
        new.used = new.mask(new.places)
        return new if all(new._place(node) for node in more) else None

    def mask(self, nodes: Iterable[Node]) -> int:
        """The bits of some of the values."""
        found = 0
        for node in nodes:
            at, width, _ = self.places[node]
            found |= (1 << width) - 1 << at
        return found

    def value(self, rows: Column, node: Node) -> Column:
        at, width, low = self.places[node]
        if node.type == "bool":
            found: Column = rows & (1 << at) != 0
            return found
        return (rows >> at & (1 << width) - 1) + low

    def packed(self, columns: Iterable[tuple[Node, Column]], rows: Column) -> Column:
        """`rows`, in which the places of these values are nought, with the values in them."""
        for node, column in columns:
            at, _, low = self.places[node]
            rows = rows | np.asarray(column, np.int64) - low << at
        return rows


class Joiner:
    """The image of a set of states, planned once for a Step."""

    def __init__(self, step: Step, bad: str, free_starts: frozenset[str] = frozenset()) -> None:
        self.step, self.bad, self.free = step, step.outputs[bad], free_starts
        known = ranges(step)
        self.spans: dict[Node, tuple[int, int]] = {}
        every = [*step.next.values(), self.bad]
        found = intervals_of(every, known)
        for node in [*ordered(every), *(each.node for each in step.states.values())]:
            if node.type == "bool":
                self.spans[node] = 0, 1
            elif node.operator == "variable":
                self.spans[node] = self._whole(node.name, known[node.name])
            elif math.inf not in map(abs, found[node]):
                self.spans[node] = int(found[node][0]), int(found[node][1])
        self.states = [each.node for each in step.states.values()]
        self.inputs = {each.node: self._values(each) for each in step.inputs.values()}
        self.combinations = math.prod(len(each) for each in self.inputs.values())
        self.layout = _Layout(self.states, self.spans)
        self.moves = self._planned()
        self.rows = 0

    @staticmethod
    def _whole(name: str, span: tuple[float | int, float | int]) -> tuple[int, int]:
        if math.inf in map(abs, span):
            raise TooLargeError(f"`{name}` has no bounds")
        return int(span[0]), int(span[1])

    def _values(self, each: InputVariable | StateVariable) -> Column:
        if each.type == "real" or each.high - each.low >= MOST_VALUES:
            raise TooLargeError(f"`{each.name}` has more than {MOST_VALUES} values")
        return np.arange(int(each.low), int(each.high) + 1).astype(TYPES[each.type])

    # -------------------------------------------------------------------- plan

    def _planned(self) -> list[_Move]:
        """What lets in the fewest new inputs, again and again."""
        left = [self.bad, *dict.fromkeys(self.step.next.values())]
        left = [node for node in left if node not in self.states and node.operator != "constant"]
        reads = {node: {n for n in ordered([node]) if n in self.inputs} for node in left}
        kept, entered = list(self.states), set[Node]()
        done: set[Node] = set()
        moves = []
        while left:
            target = min(left, key=lambda node: (len(reads[node] - entered), node is not self.bad))
            left.remove(target)
            moves.append(self._move(target, left, kept, entered, done))
            kept = list(moves[-1].after)
        return moves

    def _move(self, target: Node, left: list[Node], kept: list[Node], entered: set[Node], done: set[Node]) -> _Move:
        at_hand = set(kept)
        needed, leaves = _down_to([target], at_hand | set(self.inputs))
        enter = tuple(node for node in leaves if node in self.inputs and node not in at_hand)
        entered.update(enter)
        done.add(target)
        available = at_hand | set(enter) | needed
        _, still = _down_to(left, available)
        finals = set(self.step.next.values()) | (set(self.states) - {self._state_of(n) for n in self.step.next})
        after = [node for node in available if node in still or (node in finals and (node in done or node in at_hand))]
        after = [node for node in after if (node.operator != "constant" and node is not self.bad) or node in finals]
        before = (*kept, *enter)
        return _Move(
            enter, tuple(leaves), Tape([target], leaves), target, before, tuple(after), bool(set(before) - set(after))
        )

    def _state_of(self, name: str) -> Node:
        return self.step.states[name].node

    # ------------------------------------------------------------------- image

    def image(self, states: Column) -> tuple[Column, bool]:
        """Every state that follows one of `states`, and whether a transition from one shows `bad`."""
        rows, bad = states, self.bad is ON
        layout = self.layout
        for move in self.moves:
            for node in move.enter:
                rows, layout = self._widened(rows, layout, node)
            self.rows += len(rows)
            if len(rows) > MOST_ROWS:
                raise TooLargeError(f"more than {MOST_ROWS} rows at once")
            columns = move.tape.run({}, {node: layout.value(rows, node) for node in move.read})
            found = {node: columns[place] for node, place in move.tape.places.items()}
            bad = bad or (move.target is self.bad and bool(np.any(found[self.bad])))
            rows, layout = self._repacked(rows, layout, found, move)
        final = [self.step.next.get(each.name, each.node) for each in self.step.states.values()]
        pairs = []
        for state, node in zip(self.states, final, strict=True):
            value = np.full(len(rows), node.value) if node.operator == "constant" else layout.value(rows, node)
            pairs.append((state, value))
        return distinct(self.layout.packed(pairs, np.zeros(len(rows), np.int64))), bad

    def _widened(self, rows: Column, layout: _Layout, node: Node) -> tuple[Column, _Layout]:
        """Every row once for each value of an input."""
        wider = layout.changed((), [node])
        if wider is None:
            rows, layout = self._compact(rows, layout, layout.places, {})
            wider = _Layout([*layout.places, node], self.spans)
        at, _, low = wider.places[node]
        offsets = self.inputs[node].astype(np.int64) - low << at
        widened: Column = (rows[:, None] | offsets[None, :]).reshape(-1)
        return widened, wider

    def _repacked(
        self, rows: Column, layout: _Layout, found: dict[Node, Column], move: _Move
    ) -> tuple[Column, _Layout]:
        """Forget what nothing reads any more, and keep what was worked out; the rest stays where it is."""
        gone = layout.places.keys() - set(move.after)
        come = [node for node in move.after if node not in layout.places]
        if not gone and not come:
            return rows, layout
        now = layout.changed(gone, come)
        if now is None:
            packed, now = self._compact(rows, layout, move.after, found)
        else:
            kept = rows & now.mask(layout.places.keys() & now.places.keys()) if gone else rows
            packed = now.packed([(node, found[node]) for node in come], kept)
        return (distinct(packed) if move.forgets else packed), now

    def _compact(
        self, rows: Column, layout: _Layout, nodes: Iterable[Node], found: dict[Node, Column]
    ) -> tuple[Column, _Layout]:
        """`nodes` side by side, with nothing free between them."""
        now = _Layout(nodes, self.spans)
        pairs = [(n, layout.value(rows, n) if n in layout.places else found[n]) for n in now.places]
        return now.packed(pairs, np.zeros(len(rows), np.int64)), now

    # --------------------------------------------------------------------- all

    def explore(self, time_s: float = math.inf) -> Joined:
        """Every state from the starts on. Raises `TooLargeError` where there are too many, or the time is up."""
        until = time.monotonic() + time_s
        layer, known = self._starts(), _Known()
        known.add(layer)
        layers, transitions, depth = 0, 0, None
        while len(layer):
            transitions += len(layer) * self.combinations
            parts = []
            for begin in range(0, len(layer), ROWS):
                after, bad = self.image(layer[begin : begin + ROWS])
                parts.append(after)
                depth = layers if bad and depth is None else depth
                if time.monotonic() > until:
                    raise TooLargeError("the time was up")
            layers += 1
            layer = known.without(distinct(np.concatenate(parts)) if len(parts) > 1 else parts[0])
            known.add(layer)
            if known.count > MOST_STATES:
                raise TooLargeError(f"there are more than {MOST_STATES} states")
        return Joined(known.count, layers, transitions, self.rows, depth)

    def _starts(self) -> Column:
        rows = np.zeros(1, np.int64)
        for each in self.step.states.values():
            at, _, low = self.layout.places[each.node]
            if each.name in self.free:
                offsets = (self._values(each).astype(np.int64) - low) << at
                rows = (rows[:, None] | offsets[None, :]).reshape(-1)
                if len(rows) > MOST_ROWS:
                    raise TooLargeError("there are too many combinations of parameters")
            else:
                rows = rows | ((int(each.start) - low) << at)
        return distinct(rows)


def _down_to(roots: Iterable[Node], stop: set[Node]) -> tuple[set[Node], list[Node]]:
    """The nodes between `roots` and `stop`, and those of `stop` (and leaves) that they need."""
    inner: set[Node] = set()
    leaves: dict[Node, None] = {}
    pending = list(roots)
    while pending:
        node = pending.pop()
        if node in stop or node.operator == "variable":
            leaves[node] = None
        elif node not in inner:
            inner.add(node)
            pending += node.operands
    return inner, list(leaves)


def distinct(rows: Column) -> Column:
    """Each row once, sorted."""
    rows = np.sort(rows)
    first = np.ones(len(rows), bool)
    first[1:] = rows[1:] != rows[:-1]
    return rows[first]


class _Known:
    """A set of rows that grows by layers: sorted runs of growing length, two of like length merged."""

    def __init__(self) -> None:
        self.runs: list[Column] = []

    @property
    def count(self) -> int:
        return sum(len(run) for run in self.runs)

    def add(self, rows: Column) -> None:
        self.runs.append(rows)
        while len(self.runs) > 1 and len(self.runs[-2]) < 2 * len(self.runs[-1]):
            last = self.runs.pop()
            self.runs[-1] = np.sort(np.concatenate([self.runs[-1], last]))

    def without(self, rows: Column) -> Column:
        """Those of sorted `rows` that are not known."""
        for run in self.runs:
            if len(rows) and len(run):
                places = np.minimum(np.searchsorted(run, rows), len(run) - 1)
                rows = rows[run[places] != rows]
        return rows
