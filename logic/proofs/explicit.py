"""All states there are, one after another: exhaustive exploration of a small Step.

Breadth first, a whole layer at a time, over numpy columns: every state of the layer with
every combination of inputs goes through one step, and what is new makes the next layer. So
the answer is exact: how many states there are, whether an output ever comes on, and after
how few steps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
from rungproof.logic.proofs.tape import TYPES, Column, Tape
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

#: What is refused, and how many rows one pass works on.
MOST_INPUTS, MOST_STATES, MOST_WORK, ROWS = 2**16, 2_000_000, 2_000_000_000, 2**17
MOST_LAYERS = 100_000


class TooLargeError(ValueError):
    """Raised where a Step is more than this exploration does; says what is too many."""


@dataclass(frozen=True)
class Exploration:
    """What was found. `depth` is the fewest steps before the one that shows `bad` (0: the first),
    None where no step does. `states` counts the states reached before every step, if all were seen."""

    names: tuple[str, ...]
    types: tuple[str, ...]
    rows: Column
    depth: int | None
    layers: int
    steps: int

    @property
    def states(self) -> int:
        return len(self.rows)

    @property
    def reachable(self) -> bool:
        return self.depth is not None

    @cached_property
    def table(self) -> list[dict[str, Scalar]]:
        """Every state by name."""
        return [
            {name: _read(word, type_) for name, type_, word in zip(self.names, self.types, row, strict=True)}
            for row in self.rows
        ]

    def projected(self, *names: str) -> set[tuple[Scalar, ...]]:
        """The distinct values of some of the state variables together."""
        return {tuple(row[name] for name in names) for row in self.table}


@dataclass
class _Explorer:
    step: Step
    bad: str | None
    choices: Mapping[str, Sequence[Scalar]]
    free_starts: frozenset[str]
    assumed: str | None
    most_layers: int
    steps: int = 0
    names: tuple[str, ...] = ()
    inputs: dict[str, Column] = field(default_factory=dict)

    def run(self, *, stop_at_bad: bool) -> Exploration:
        states = self.step.states
        self.names = tuple(states)
        self.inputs = self._combinations({n: self._values(e) for n, e in self.step.inputs.items()}, self.step.inputs)
        self.keys = _Keys.of(list(states.values()))
        layer = self._starts()
        seen, known = [layer], self.keys(layer)
        depth, layers = None, 0
        while len(layer):
            fresh, bad = self._layer(layer)
            if bad and depth is None:
                depth = layers
                if stop_at_bad:
                    break
            layers += 1
            if layers > self.most_layers:
                raise TooLargeError(f"there are states more than {self.most_layers} steps away")
            layer = fresh[~np.isin(self.keys(fresh), known)]
            seen.append(layer)
            known = np.concatenate([known, self.keys(layer)])
            if len(known) > MOST_STATES:
                raise TooLargeError(f"there are more than {MOST_STATES} states")
        types = tuple(each.type for each in states.values())
        return Exploration(self.names, types, np.concatenate(seen), depth, layers, self.steps)

    # ------------------------------------------------------------- beginnings

    def _values(self, each: InputVariable | StateVariable) -> Sequence[Scalar]:
        """All values of a variable, unless the caller chose some."""
        if each.name in self.choices:
            return self.choices[each.name]
        if each.type == "bool":
            return (False, True)
        if each.low == each.high:
            return (each.low,)
        if each.type == "real":
            raise TooLargeError(f"`{each.name}` is a real with more values than can be tried")
        if each.high - each.low >= MOST_INPUTS:
            raise TooLargeError(f"`{each.name}` has more than {MOST_INPUTS} values")
        return range(int(each.low), int(each.high) + 1)

    @staticmethod
    def _combinations(
        values: Mapping[str, Sequence[Scalar]], variables: Mapping[str, InputVariable | StateVariable]
    ) -> dict[str, Column]:
        """One row for each combination, one column for each variable."""
        count = math.prod(len(each) for each in values.values())
        if count > MOST_INPUTS:
            raise TooLargeError(f"there are {count} combinations of inputs")
        rows = list(product(*values.values()))
        return {
            name: np.array([row[place] for row in rows], TYPES[variables[name].type])
            for place, name in enumerate(values)
        }

    def _starts(self) -> Column:
        states = self.step.states
        values = {n: self._values(e) if n in self.free_starts else (e.start,) for n, e in states.items()}
        columns = self._combinations(values, states)
        count = max((len(each) for each in columns.values()), default=1)
        return self.keys.distinct(self._packed([columns[name] for name in self.names], count))

    def _packed(self, columns: Sequence[Column], count: int) -> Column:
        """States as rows of 64-bit words; a real keeps its bits."""
        if not columns:
            return np.zeros((count, 0), np.int64)
        words = [column.view(np.int64) if column.dtype == np.float64 else column.astype(np.int64) for column in columns]
        return np.stack(words, axis=1)

    # ------------------------------------------------------------------ steps

    def _layer(self, layer: Column) -> tuple[Column, bool]:
        """Every state that follows one of `layer`, and whether one of these steps shows `bad`."""
        combinations = max((len(each) for each in self.inputs.values()), default=1)
        self.steps += len(layer) * combinations
        if self.steps > MOST_WORK:
            raise TooLargeError(f"more than {MOST_WORK} steps would have to be tried")
        size = max(1, ROWS // combinations)
        found, bad = [], False
        for begin in range(0, len(layer), size):
            after, shown = self._block(layer[begin : begin + size], combinations)
            found.append(self.keys.distinct(after))
            bad = bad or shown
        return self.keys.distinct(np.concatenate(found)), bad

    def _block(self, rows: Column, combinations: int) -> tuple[Column, bool]:
        count = len(rows) * combinations
        values: dict[str, Column] = {}
        for place, name in enumerate(self.names):
            column = np.ascontiguousarray(rows[:, place])
            kind = TYPES[self.step.states[name].type]
            values[name] = np.repeat(column.view(kind) if kind is np.float64 else column.astype(kind), combinations)
        for name, column in self.inputs.items():
            values[name] = np.tile(column, len(rows))
        found = self._worked_out(values)
        keep = (
            _full(found[self.step.outputs[self.assumed]], count) if self.assumed is not None else np.ones(count, bool)
        )
        bad = False
        if self.bad is not None:
            bad = bool((_full(found[self.step.outputs[self.bad]], count) & keep).any())
        nexts = [
            _full(found[self.step.next[name]], count) if name in self.step.next else values[name] for name in self.names
        ]
        return self._packed([np.ascontiguousarray(each[keep]) for each in nexts], int(keep.sum())), bad

    def _worked_out(self, values: Mapping[str, Column]) -> Mapping[Node, Any]:
        columns = self.tape.run(values)
        return {node: columns[place] for node, place in self.tape.places.items()}

    @cached_property
    def tape(self) -> Tape:
        return Tape(self._roots())

    def _roots(self) -> list[Node]:
        outputs = [self.step.outputs[name] for name in (self.bad, self.assumed) if name is not None]
        return [*self.step.next.values(), *outputs]


def explore(
    step: Step,
    bad: str | None = None,
    *,
    choices: Mapping[str, Sequence[Scalar]] | None = None,
    free_starts: frozenset[str] = frozenset(),
    assumed: str | None = None,
    stop_at_bad: bool = False,
    most_layers: int = MOST_LAYERS,
) -> Exploration:
    """Every state of `step` from its start values on.

    `bad` names an output to look for. `choices` gives the values to try of inputs (and free
    starts) that have too many, or of which only some are wanted. `free_starts` are states that
    start at any value. A step that does not show output `assumed` is not taken. With
    `stop_at_bad` the exploration ends at the first layer that shows `bad`. `most_layers` is how
    many steps from the start it goes.

    Raises `TooLargeError` where there are too many inputs, states or steps.
    """
    explorer = _Explorer(step, bad, choices or {}, free_starts & step.states.keys(), assumed, most_layers)
    return explorer.run(stop_at_bad=stop_at_bad)


def _full(value: Any, count: int) -> Column:
    return np.ascontiguousarray(np.broadcast_to(value, (count,)))


# ------------------------------------------------------------------ sets of rows


@dataclass(frozen=True)
class _Keys:
    """Rows as single values that sort and compare: one word where the declared ranges fit into it."""

    lows: Column
    shifts: Column | None
    highs: Column

    @classmethod
    def of(cls, states: Sequence[StateVariable]) -> _Keys:
        spans = [(0, 1) if each.type == "bool" else (each.low, each.high) for each in states]
        lows, highs = (
            ([int(max(min(each, 2.0**62), -(2.0**62))) for each in ends] for ends in zip(*spans, strict=True))
            if spans
            else ([], [])
        )
        widths = [(high - low).bit_length() for low, high in zip(lows, highs, strict=True)]
        shifts = np.cumsum([0, *widths])
        fits = shifts[-1] <= 63 and all(each.type != "real" for each in states)
        return cls(np.array(lows, np.int64), shifts[:-1] if fits else None, np.array(highs, np.int64))

    def __call__(self, rows: Column) -> Column:
        if self.shifts is None:
            return np.ascontiguousarray(rows).view([("", np.int64)] * rows.shape[1]).reshape(-1)
        if ((rows < self.lows) | (rows > self.highs)).any():
            raise AssertionError("a state variable left its declared range")
        words: Column = ((rows - self.lows) << self.shifts).sum(axis=1, dtype=np.int64)
        return words

    def distinct(self, rows: Column) -> Column:
        """Each row once, in the order of keys."""
        keys = self(rows)
        order = np.argsort(keys, kind="stable")
        keys = keys[order]
        first = np.ones(len(keys), bool)
        first[1:] = keys[1:] != keys[:-1]
        return rows[order[first]]


def _read(word: Any, type_: str) -> Scalar:
    if type_ == "real":
        return float(np.int64(word).view(np.float64))
    return bool(word) if type_ == "bool" else int(word)
