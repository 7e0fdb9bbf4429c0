"""Functional tests step by step, made from the matrices: what to do, what must come, what to put right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rungproof.logic.checks.words import rounded, time_words
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.sheets.cause_effect import GONE_MS, STANDS_MS, Cell, Effect, Matrix, Row
from rungproof.logic.sheets.states import MachineState, steps_to

#: A state that stands for less (ms) is over before somebody has done the next thing. Common practice, no source.
BY_HAND_MS = 1000


@dataclass(frozen=True, slots=True)
class Step:
    """One step. `number` is like `2.4`; `moves`: something may move while it is done.

    `expect` is what must come while the cause stands, `undo` how it goes again, `then` what must
    come of that.
    """

    number: str
    do: str
    expect: tuple[str, ...]
    undo: str = ""
    then: tuple[str, ...] = ()
    moves: bool = False


@dataclass(frozen=True, slots=True)
class Procedure:
    """All steps from one state. `restore` lists what has been forced, and must be put right; `not_here` are causes
    that nobody can bring about at a bench, and that were tried in the model alone. `fleeting_ms`: so long the state
    stands, where that is too short for a hand."""

    title: str
    state: str
    steps: tuple[Step, ...]
    restore: tuple[str, ...]
    not_here: tuple[str, ...] = ()
    fleeting_ms: int | None = None


def procedures_of(program: Program, matrices: Sequence[Matrix]) -> tuple[Procedure, ...]:
    """A procedure for each matrix, numbered from 1."""
    return tuple(_procedure(program, number, matrix) for number, matrix in enumerate(matrices, start=1))


def _procedure(program: Program, number: int, matrix: Matrix) -> Procedure:
    state = matrix.state
    moving = {effect.key for effect in matrix.effects if effect.moves}
    running = bool(moving & set(state.on))
    on = [f"{key} on" for key in state.on]
    way = steps_to(program, state)
    steps = [
        Step(f"{number}.0", "; then ".join(way), tuple(on) or ("nothing of what is listed here is on",), moves=running)
    ]
    done = [row for row in matrix.rows if row.cause.at_bench]
    for place, row in enumerate([row for row in done if row.works], start=1):
        steps.append(_step(f"{number}.{place}", matrix, row, running))
    idle = [row.cause for row in done if not row.works]
    for place, cause in enumerate(idle, start=len(steps)):
        nothing = (f"nothing changes within {time_words(STANDS_MS)}",)
        steps.append(Step(f"{number}.{place}", _sentence(cause.do), nothing, cause.undo, ("nothing changes",), running))
    forced = tuple(dict.fromkeys(row.cause.undo for row in done if row.cause.forced))
    not_here = tuple(row.cause.name for row in matrix.rows if not row.cause.at_bench)
    fleeting = state.stood_ms if state.on and state.stood_ms < BY_HAND_MS else None
    return Procedure(state_words(state), state.source, tuple(steps), forced, not_here, fleeting)


def _step(number: str, matrix: Matrix, row: Row, running: bool) -> Step:
    pairs = list(zip(matrix.effects, row.cells, matrix.before, strict=True))
    expect = [line for effect, cell, before in pairs for line in _while_it_stands(effect, cell, before)]
    then = [line for effect, cell, _ in pairs for line in _when_it_has_gone(effect, cell)]
    stay = [effect.key for effect, cell, _ in pairs if cell.stays and cell.after_ms is not None]
    if stay:
        then.append(f"stays as it is now, for {time_words(GONE_MS)} at least: {', '.join(stay)}")
    starts = any(effect.moves and (cell.value is True) for effect, cell, _ in pairs if not cell.empty)
    if row.cut:
        then.append("the run ended there, because an assumption no longer holds")
    moves = running or starts
    expect = expect or ["nothing changes while it stands"]
    return Step(number, _sentence(row.cause.do), tuple(expect), row.cause.undo, tuple(then), moves)


def _while_it_stands(effect: Effect, cell: Cell, before: Scalar) -> Iterator[str]:
    if cell.after_ms is None:
        return
    when = f"after {time_words(cell.after_ms)}" if cell.after_ms else "at once"
    words = f"{effect.key} {value_words(effect, cell.value)} {when}"
    yield words if cell.held else f"{words}, and {value_words(effect, before)} again by itself"


def _when_it_has_gone(effect: Effect, cell: Cell) -> Iterator[str]:
    if cell.back_ms is None:
        return
    if cell.after_ms is None:
        yield f"{effect.key} {value_words(effect, cell.value)} after {time_words(cell.back_ms)}"
    elif cell.held:
        now = "follows again" if effect.span else f"{value_words(effect, not cell.value)} again"
        yield f"{effect.key} {now} after {time_words(cell.back_ms)}"


def value_words(effect: Effect, value: Scalar) -> str:
    """`on`, `off`, `7.5 V`."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"at {rounded(value, 4)} {effect.unit}".rstrip()


def state_words(state: MachineState) -> str:
    """`At rest`; `State 1: pump_enable, feed_pump.turning on`."""
    name = _sentence(state.name)
    return f"{name}: {', '.join(state.on)} on" if state.on else name


def _sentence(said: str) -> str:
    return said[:1].upper() + said[1:]
