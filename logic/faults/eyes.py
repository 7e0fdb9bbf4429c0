"""What people can see of a machine, and its declared safe states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rungproof.logic.checks.expressions import children, walk
from rungproof.logic.engines.forked import Row, Told
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.faults.series import Steps, column
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Binary,
    Comparison,
    Constant,
    Convert,
    Expression,
    Inverse,
    PartReading,
    TagValue,
    ToReal,
)

#: Outputs of parts that are there to be seen or heard, and those that tell that something moves.
SIGNALS = ("lit", "sounding")
MOVEMENTS = ("energised", "turning", "moving", "running", "advancing")


@dataclass(frozen=True, slots=True)
class Safe:
    """A declared safe state and the hazards that declare it."""

    hazards: tuple[str, ...]
    expression: Expression


@dataclass(frozen=True, slots=True)
class Eyes:
    """`told`: all that a run must tell. Of these, `signals` are lamps and horns, `tags` truths of the
    program, `movements` what is seen to move."""

    told: tuple[str, ...]
    signals: tuple[str, ...]
    tags: tuple[str, ...]
    movements: tuple[str, ...]
    safes: tuple[Safe, ...]
    undeclared: tuple[str, ...]

    def of(self, name: str, told: Told) -> Steps:
        """One of `told` in time."""
        return column(told.rows, self.told.index(name), told.ended_ms)

    def safe(self, safe: Safe, told: Told) -> Steps:
        """Whether the machine is in a safe state, in time."""
        return safety(safe, self.told, told.rows, told.ended_ms)


def safety(safe: Safe, names: tuple[str, ...], rows: tuple[Row, ...], end: int) -> Steps:
    """Whether a safe state stands, worked out at every change."""
    read = leaves(safe.expression)
    known: dict[tuple[object, ...], bool] = {}
    places = [names.index(name) for name in read]
    times: list[int] = []
    values: list[bool] = []
    for row in rows:
        key = tuple(row[place + 1] for place in places)
        if key not in known:
            now: Mapping[str, bool] = dict(zip(read, key, strict=True))
            known[key] = bool(evaluate(safe.expression, Moment(tags=now, plant=now)))
        if not values or values[-1] != known[key]:
            times.append(int(row[0]))
            values.append(known[key])
    return Steps(tuple(times), tuple(values), end)


def leaves(expression: Expression) -> tuple[str, ...]:
    """The names that an expression reads, each once."""
    return tuple(
        dict.fromkeys(
            each.key if isinstance(each, PartReading) else each.tag
            for each in walk(expression)
            if isinstance(each, PartReading | TagValue)
        )
    )


def eyes_of(program: Program) -> Eyes:
    """What there is to see in a program with a plant."""
    assert program.plant is not None
    looks = [key for key, each in program.plant.assembly.outputs.items() if each.type == "bool"]
    outputs = program.plant.assembly.outputs
    signals = tuple(key for key in looks if key.rpartition(".")[2] in SIGNALS or outputs[key].says)
    movements = tuple(key for key in looks if key.rpartition(".")[2] in MOVEMENTS)
    tags: tuple[str, ...] = ()
    if program.controller is not None:
        own = [tag for tag in program.controller.tags.values() if tag.role in ("output", "memory")]
        tags = tuple(tag.name for tag in own if tag.type == "bool")
    readable = {*program.plant.assembly.outputs, *program.plant.assembly.contacts}
    readable |= set(program.controller.tags) if program.controller is not None else set()
    safes: dict[tuple[object, ...], tuple[Expression, list[str]]] = {}
    undeclared: list[str] = []
    for hazard in program.hazards:
        if hazard.safe_state is not None and _simple(hazard.safe_state, readable):
            safes.setdefault(_said(hazard.safe_state), (hazard.safe_state, []))[1].append(hazard.name)
        else:
            undeclared.append(hazard.name)
    found = tuple(Safe(tuple(names), expression) for expression, names in safes.values())
    told = dict.fromkeys((*signals, *tags, *movements, *(n for each in found for n in leaves(each.expression))))
    return Eyes(tuple(told), signals, tags, movements, found, tuple(undeclared))


def _simple(expression: Expression, readable: set[str]) -> bool:
    """Whether a safe state can be worked out from one instant of what a run tells."""
    known = (PartReading, TagValue, AllOf, AnyOf, Inverse, Comparison, Constant, Convert, ToReal, Binary)
    return all(isinstance(each, known) for each in walk(expression)) and set(leaves(expression)) <= readable


def _said(expression: Expression) -> tuple[object, ...]:
    """What an expression says, wherever it stands: two hazards may declare one safe state."""
    own = [getattr(expression, name, None) for name in ("key", "tag", "value", "operator")]
    return (type(expression).__name__, *own, *(_said(each) for each in children(expression)))
