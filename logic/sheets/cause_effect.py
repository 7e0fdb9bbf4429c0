"""The matrix of causes and effects, worked out by running (its form: IEC 62881, from memory).

From each state of the machine that is worth it, every cause comes alone, stands, and goes again.
An effect is whatever then differs from the same run without the cause: so nothing in the matrix
was typed by anybody, and a cell that is empty was tried.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.engines.contract import Trace
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.sheets.causes import Cause, causes_of
from rungproof.logic.sheets.states import MachineState

#: How long a cause stands, and how long the run goes on when it has gone, in ms.
STANDS_MS, GONE_MS = 10_000, 10_000

#: A number that differs by less than this share of its range has not been moved by the cause.
MOVED = 0.01


@dataclass(frozen=True, slots=True)
class Effect:
    """Something that the machine does. `moves`: somebody can be hurt by it. `span` is 0 for a truth."""

    key: str
    moves: bool
    unit: str = ""
    span: float = 0.0


@dataclass(frozen=True, slots=True)
class Cell:
    """What one cause does to one effect.

    `after_ms` is the time from the cause to the first difference from the run without it, None
    where there was none while the cause stood; `value` is what the effect then is (a number: when
    the cause has stood). `held`: it is still so when the cause has stood. `stays`: it is still so
    long after the cause has gone. `back_ms`: the time from the cause's going to the first change.
    """

    after_ms: int | None = None
    value: Scalar = False
    held: bool = False
    stays: bool = False
    back_ms: int | None = None

    @property
    def empty(self) -> bool:
        return self.after_ms is None and self.back_ms is None


@dataclass(frozen=True, slots=True)
class Row:
    """A cause with its cells, in the order of the effects. `cut`: an assumption ended the run at so many ms."""

    cause: Cause
    cells: tuple[Cell, ...]
    cut: bool = False

    @property
    def works(self) -> bool:
        return any(not cell.empty for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Matrix:
    """All causes from one state. `before` are the effects' values when the cause comes."""

    state: MachineState
    effects: tuple[Effect, ...]
    before: tuple[Scalar, ...]
    rows: tuple[Row, ...]


def effects_of(program: Program) -> tuple[Effect, ...]:
    """The outputs of the program, and what the driven parts of the plant then do."""
    found = []
    if program.controller is not None:
        for tag in program.controller.tags.values():
            if tag.role == "output":
                span = 0.0 if tag.type == "bool" else float(tag.high) - float(tag.low)
                found.append(Effect(tag.name, False, tag.unit.symbol if tag.unit else "", span))
    if program.plant is not None:
        for part in program.plant.assembly.parts:
            if not any(each.source == "driven" for each in part.inputs):
                continue
            shown = [each.name for each in part.outputs if each.type == "bool" and each.name not in _NOT_TOLD]
            found += [Effect(f"{part.name}.{name}", name in _MOVING and part.kind not in _STILL) for name in shown]
    return tuple(found)


#: What a driven part shows that is no effect of a cause on it, but of the liquid or the air.
_NOT_TOLD = frozenset({"starved", "primed", "proved", "advancing"})
_MOVING = frozenset({"energised", "turning", "moving"})
_STILL = frozenset({"lamp", "horn", "beacon", "text_panel", "relay", "contactor"})


def matrix_from(program: Program, state: MachineState) -> Matrix:
    """Every cause alone, from one state."""
    effects = effects_of(program)
    base = _run(program, state, ())
    before = tuple(base.at(effect.key, state.at_ms) for effect in effects)
    rows = []
    for cause in causes_of(program, base.values_at(state.at_ms), state.story):
        events = (*_set(state.at_ms, cause), Event(state.at_ms + STANDS_MS, cause.key, cause.before))
        rows.append(_row(cause, effects, base, _run(program, state, events), state.at_ms))
    return Matrix(state, effects, before, tuple(rows))


def _set(at_ms: int, cause: Cause) -> tuple[Event, ...]:
    return (Event(at_ms, cause.key, cause.value),)


@dataclass(frozen=True, slots=True)
class _Told:
    times: np.ndarray
    columns: Mapping[str, Sequence[Scalar]]

    def at(self, key: str, at_ms: int) -> Scalar:
        return self.columns[key][max(0, int(np.searchsorted(self.times, at_ms, "right")) - 1)]

    def values_at(self, at_ms: int) -> dict[str, Scalar]:
        return {key: self.at(key, at_ms) for key in self.columns}


def _run(program: Program, state: MachineState, events: tuple[Event, ...]) -> _Told:
    whole = state.at_ms + STANDS_MS + GONE_MS
    story = replace(state.story, duration_ms=whole, events=(*state.story.events, *events))
    trace = recorded(program, story)
    return _Told(np.asarray(trace.times), {**trace.tags, **trace.plant})


def recorded(program: Program, story: Story) -> Trace:
    trace = fast_engine().run(program, story, watch=frozenset(), record=True).trace
    if trace is None:
        raise AssertionError("an engine that was asked to record did not")
    return trace


def _row(cause: Cause, effects: tuple[Effect, ...], base: _Told, run: _Told, at_ms: int) -> Row:
    shared = min(len(base.times), len(run.times))
    first = int(np.searchsorted(run.times[:shared], at_ms, "left"))
    times = run.times[first:shared]
    cells = tuple(_cell(effect, base, run, window=slice(first, shared), times=times, at_ms=at_ms) for effect in effects)
    return Row(cause, cells, cut=len(run.times) < len(base.times))


def _cell(effect: Effect, base: _Told, run: _Told, *, window: slice, times: np.ndarray, at_ms: int) -> Cell:
    ours, theirs = (np.asarray(told.columns[effect.key][window]) for told in (run, base))
    differs = np.abs(ours - theirs) > MOVED * effect.span if effect.span else ours != theirs
    places = np.flatnonzero(differs)
    if not len(places):
        return Cell()
    ends = at_ms + STANDS_MS
    values = run.columns[effect.key][window]
    first, last = int(places[0]), int(np.flatnonzero(times <= ends)[-1])
    if times[first] > ends:
        return Cell(None, values[first], False, bool(ours[-1] == ours[first]), int(times[first]) - ends)
    value = values[last] if effect.span else values[first]
    stands = differs if effect.span else ours == ours[first]
    left = np.flatnonzero(~stands[last:])
    back = int(times[last + left[0]]) - ends if stands[last] and len(left) else None
    return Cell(int(times[first]) - at_ms, value, bool(stands[last]), bool(stands[last] and stands[-1]), back)
