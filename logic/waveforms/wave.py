"""A run as signals over time: what the file formats of this package write down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.engines.contract import Trace
from rungproof.logic.evidence.account import wanted
from rungproof.logic.evidence.run_account import affordable
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar, Type

#: Stands in every file that can hold a remark.
CAUTION = (
    "In the model; nothing was measured on a machine. "
    "A design aid, not a safety-rated tool: verify on the real machine."
)


@dataclass(frozen=True, slots=True)
class Signal:
    """One column: `name` as the files say it, `path` the same from the outside in, without signs of its own.

    `header.level` has the path `("plant", "header", "level")`. `values` has one entry an instant.
    """

    name: str
    path: tuple[str, ...]
    type: Type
    unit: str | None
    values: Sequence[Scalar]


@dataclass(frozen=True, slots=True)
class Wave:
    """A run: `times` are its instants (ms), rising; every signal has a value at each of them."""

    title: str
    times: Sequence[int]
    signals: tuple[Signal, ...]


def wave_of(program: Program, story: Story, title: str, *, only: frozenset[str] = frozenset()) -> Wave:
    """Run a story and keep every signal, or those named in `only`.

    Tags and stages, what the plant shows, its contacts, and what the story sets. Raises
    `KeyError` for a name in `only` that is not there, `ValueError` for a run too long to hold.
    """
    affordable(program, story)
    trace = fast_engine().run(program, story, watch=frozenset(), record=True).trace
    if trace is None:
        raise AssertionError("an engine that was asked to record did not")
    signals = [*_tags(program, trace), *_plant(program, trace), *_given(program, story, trace)]
    only = wanted(only, {signal.name for signal in signals})
    missing = sorted(only - {signal.name for signal in signals})
    if missing:
        known = ", ".join(sorted(signal.name for signal in signals))
        raise KeyError(f"no tag or signal is called `{missing[0]}`; there are: {known}")
    return Wave(title, trace.times, tuple(each for each in signals if not only or each.name in only))


def _tags(program: Program, trace: Trace) -> Iterator[Signal]:
    if program.controller is None:
        return
    for name, values in trace.tags.items():
        tag = program.controller.tags.get(name)
        if tag is not None:
            unit = tag.unit.symbol if tag.unit is not None else None
            yield Signal(name, ("controller", name), tag.type, unit, values)
            continue
        stage, _, inside = name.partition(".")
        unit = "ms" if inside == "elapsed" else None
        yield Signal(name, ("stages", stage, inside or "out"), "int" if inside else "bool", unit, values)


def _plant(program: Program, trace: Trace) -> Iterator[Signal]:
    if program.plant is None:
        return
    outputs = program.plant.assembly.outputs
    for name, values in trace.plant.items():
        part, _, what = name.partition(".")
        if name in outputs:
            shown = outputs[name]
            yield Signal(name, ("plant", part, what), shown.type, shown.unit, values)
        else:
            yield Signal(name, ("plant", part, f"contact_{what}"), "bool", None, values)


def _given(program: Program, story: Story, trace: Trace) -> Iterator[Signal]:
    """What people, the world and faults do in the story; what it never sets is left out."""
    there = {*trace.tags, *trace.plant}
    for key in sorted({event.key for event in story.events} - there):
        knob = program.knobs.get(key)
        if knob is None:
            continue
        events = [event for event in story.events if event.key == key]
        owner, mark, what = key.partition("!") if "!" in key else key.partition(".")
        inside = f"fault_{what}" if mark == "!" and knob.kind == "fault" else what
        unit = knob.unit.symbol if knob.unit is not None else None
        values = _held(trace.times, [(event.at_ms, event.value) for event in events], knob.start)
        yield Signal(key, ("given", owner, inside) if inside else ("given", owner), knob.type, unit, values)


def _held(times: Sequence[int], changes: Sequence[tuple[int, Scalar]], start: Scalar) -> list[Scalar]:
    """The value at each instant: events up to it, in their order, have happened."""
    values = []
    value, place = start, 0
    for at in times:
        while place < len(changes) and changes[place][0] <= at:
            value = changes[place][1]
            place += 1
        values.append(value)
    return values
