"""A run told in order of time: what happened to the plant, and what it and the program did.

Made from a recorded outcome. On and off are told whenever they change, numbers at the
interval asked for. Contacts follow their parts, so they are told only where they are asked for
by name; so are the insides of stages.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.story_text import story_tree
from rungproof.logic.engines.contract import Trace
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar

#: What a stage holds besides its output; `.count` is worth telling, an elapsed time is not.
_INSIDES = ".elapsed"

_MS = {"ms": 1, "s": 1000, "min": 60_000}


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant worth telling. `events` are in the words of a scenario: `press S1 for 200 ms`."""

    at_ms: int
    events: tuple[str, ...] = ()
    changes: tuple[tuple[str, bool], ...] = ()
    numbers: tuple[tuple[str, float | int], ...] = ()


@dataclass(frozen=True, slots=True)
class Account:
    """`on_at_first` are the truths that are on at the first instant; `at_last` is everything at
    the last one, contacts and insides of stages too; `units` go with the numbers, `says` with what people can read."""

    first_ms: int
    last_ms: int
    on_at_first: tuple[str, ...]
    moments: tuple[Moment, ...]
    at_last: Mapping[str, Scalar]
    units: Mapping[str, str]
    says: Mapping[str, str] = field(default_factory=dict)


def tell(
    program: Program, story: Story, trace: Trace, *, every_ms: int | None = None, only: frozenset[str] = frozenset()
) -> Account:
    """The account of a run. `only` names tags and signals to tell (empty: all but contacts and insides of stages).

    Numbers are told at the first and the last instant, and every `every_ms` between them.
    """
    truths, numbers = _chosen(program, trace, only)
    times = trace.times
    if not times:
        return Account(0, 0, (), (), {}, {})
    changes: dict[int, list[tuple[str, bool]]] = defaultdict(list)
    for name, column in truths.items():
        values = np.fromiter(column, dtype=bool, count=len(column))
        for place in np.flatnonzero(values[1:] != values[:-1]):
            changes[times[place + 1]].append((name, bool(values[place + 1])))
    told: dict[int, tuple[tuple[str, float | int], ...]] = {
        times[place]: tuple((name, _plain(column[place])) for name, column in numbers.items())
        for place in _sampled(times, every_ms)
        if numbers
    }
    events = _events(program, story, times[-1])
    moments = tuple(
        Moment(at, tuple(events.get(at, ())), tuple(changes.get(at, ())), told.get(at, ()))
        for at in sorted({*events, *changes, *told})
    )
    on_at_first = tuple(name for name, column in truths.items() if column[0])
    at_last = {name: _plain(column[-1]) for name, column in (*trace.tags.items(), *trace.plant.items())}
    outputs = program.plant.assembly.outputs if program.plant is not None else {}
    says = {name: each.says for name, each in outputs.items() if each.says}
    return Account(times[0], times[-1], on_at_first, moments, at_last, units_of(program, at_last), says)


def names_told(trace: Trace) -> frozenset[str]:
    """Every name that `only` may hold."""
    return frozenset((*trace.tags, *trace.plant))


def wanted(only: frozenset[str], names: Collection[str]) -> frozenset[str]:
    """`only` with the name of a part standing for all that it shows; a name that is not there stays as it is."""
    inside = {each: [name for name in names if name.startswith(f"{each}.")] for each in only if each not in names}
    return frozenset(name for each in only for name in inside.get(each) or (each,))


def _chosen(
    program: Program, trace: Trace, only: frozenset[str]
) -> tuple[dict[str, Sequence[Scalar]], dict[str, Sequence[Scalar]]]:
    contacts = set(program.plant.assembly.contacts) if program.plant is not None else set()
    truths: dict[str, Sequence[Scalar]] = {}
    numbers: dict[str, Sequence[Scalar]] = {}
    for name, column in (*trace.tags.items(), *trace.plant.items()):
        if (name not in only) if only else (name in contacts or name.endswith(_INSIDES)):
            continue
        if column:
            (truths if isinstance(column[0], bool) else numbers)[name] = column
    return truths, numbers


def _plain(value: Scalar) -> Scalar:
    """Engines may give numpy numbers; an account holds plain ones."""
    return value if isinstance(value, bool | int) else float(value)


def _sampled(times: Sequence[int], every_ms: int | None) -> Iterator[int]:
    """The first instant at or after each multiple of the interval; the first and the last in any case."""
    due = times[0]
    for place, at in enumerate(times):
        if at >= due or place == len(times) - 1:
            yield place
            due = times[-1] if every_ms is None else (at // every_ms + 1) * every_ms


def _events(program: Program, story: Story, last_ms: int) -> dict[int, list[str]]:
    """Events by their time (ms), as a scenario says them, without the time."""
    events: dict[int, list[str]] = defaultdict(list)
    for line in story_tree(program, story, "").lines:
        if isinstance(line, tree.At):
            at = int(Decimal(line.time.text) * _MS[line.time.unit or "ms"])
            if at <= last_ms:
                _, _, _, *words = to_text(line).split()
                events[at].append(" ".join(words))
    return events


def units_of(program: Program, numbers: Iterable[str]) -> dict[str, str]:
    """The units of tags, stages' insides and signals, as symbols, of those that have one."""
    units = {}
    tags = program.controller.tags if program.controller is not None else {}
    outputs = program.plant.assembly.outputs if program.plant is not None else {}
    for name in numbers:
        if name in tags:
            unit = tags[name].unit
            symbol = unit.symbol if unit is not None else None
        else:
            symbol = outputs[name].unit if name in outputs else None
        if name.endswith(".elapsed"):
            symbol = "ms"
        if symbol is not None:
            units[name] = symbol
    return units
