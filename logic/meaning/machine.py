"""From the lines of a `plant` block to parts: kinds, clauses, and who refers to whom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import gcd
from typing import Any

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Clause, Interval, Negate, Number, PartLine, Plant, Span, Text, Word
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.machine_times import whole_ms
from rungproof.logic.meaning.units import convert
from rungproof.plant import clauses as neutral
from rungproof.plant.assembly import Assembly, AssemblyError
from rungproof.plant.part import Mover, Part, PartError, TickError
from rungproof.plant.rehearsal import words_of

#: So many of the parts that a tick does not fit are shown with their places.
_SHOWN = 3


@dataclass(slots=True)
class Machine:
    """The parts of a plant. `broken` names parts whose line is at fault: nobody is told that
    they are unknown. `off_tick` are those to which only the plant's tick does not fit. `assembly` is
    None where any line is at fault."""

    name: str
    tick: int
    span: Span
    parts: dict[str, Part] = field(default_factory=dict)
    lines: dict[str, PartLine] = field(default_factory=dict)
    folded: dict[str, PartLine] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    off_tick: list[tuple[PartLine, TickError, Span]] = field(default_factory=list)
    assembly: Assembly | None = None


def read_machine(plant: Plant, kinds: Mapping[str, type[Part]], reporter: Reporter) -> Machine:
    """Every part that can be made; the mistakes in the others are reported."""
    tick = whole_ms(plant.every, reporter, least=1)
    machine = Machine(plant.name, tick or 1, plant.span)
    for line in plant.parts:
        _read_part(line, kinds, machine, reporter)
    _report_ticks(plant, machine, reporter)
    for _ in machine.parts:
        known = len(machine.broken)
        for name in [n for n in machine.parts if n not in machine.broken]:
            _check_names(machine, name, reporter)
        if len(machine.broken) == known:
            break
    assembly = _assemble(machine, reporter)
    machine.assembly = assembly if tick is not None else None
    if assembly is not None:
        _report_heights(assembly, machine, reporter)
    return machine


def _read_part(line: PartLine, kinds: Mapping[str, type[Part]], machine: Machine, reporter: Reporter) -> None:
    if line.name == "controller":
        reporter.report("part-name-reserved", line.span, name=line.name)
        machine.lines[line.name] = line
        machine.broken.add(line.name)
        return
    other = machine.folded.setdefault(line.name.lower(), line)
    if other is not line:
        reporter.report("part-twice", line.span, name=line.name, related=((other.span, f"{other.name} is here"),))
        return
    machine.lines[line.name] = line
    part_class = kinds.get(line.kind)
    if part_class is None:
        mend = did_you_mean(line.kind, kinds)
        reporter.report("part-kind-unknown", line.span, kind=line.kind, kinds=", ".join(sorted(kinds)), mend=mend)
        machine.broken.add(line.name)
        return
    part = _make(line, part_class, machine, reporter)
    if part is None:
        machine.broken.add(line.name)
    else:
        machine.parts[line.name] = part


def _make(line: PartLine, part_class: type[Part], machine: Machine, reporter: Reporter) -> Part | None:
    items = [[_neutral(item) for item in clause.items] for clause in line.clauses]
    matched = neutral.match(part_class, items, convert)
    for problem in matched.problems:
        fields: dict[str, Any] = {"kind": line.kind, "name": line.name, **problem.fields}
        others = problem.fields.get("others")
        mend = f"other clauses that may stand there: {others}" if others else None
        reporter.report(problem.code, _place(line, problem.clause_index, problem.item_index), mend=mend, **fields)
    if matched.problems:
        return None
    try:
        return part_class(line.name, matched.given, machine.tick)
    except PartError as error:
        place = matched.places.get(error.slot)
        span = _place(line, place[0], place[1] + error.element) if place else line.span
        if isinstance(error, TickError):
            machine.off_tick.append((line, error, span))
        else:
            _impossible(line, error, span, reporter)
        return None
    except Exception as error:
        if part_class.__module__.startswith("rungproof.plant."):
            raise  # ours to mend, not the user's
        words, mend = words_of(line.kind, error)
        fields = {"kind": line.kind, "name": line.name, "problem": words}
        reporter.report("part-impossible", line.span, mend=mend or None, **fields)
        return None


def _impossible(line: PartLine, error: PartError, span: Span, reporter: Reporter) -> None:
    mend = error.mend or None
    reporter.report("part-impossible", span, mend=mend, kind=line.kind, name=line.name, problem=error.message)


def _report_ticks(plant: Plant, machine: Machine, reporter: Reporter) -> None:
    """One part that does not fit the tick is at fault itself; of several it is the tick, and that is said once."""
    if len(machine.off_tick) < 2:
        for line, error, span in machine.off_tick:
            _impossible(line, error, span, reporter)
        return
    times = [time for line, _, _ in machine.off_tick for time in _times_of(line)]
    reporter.report(
        "tick-misfits",
        plant.every.span,
        tick=machine.tick,
        count=len(machine.off_tick),
        parts=", ".join(f"`{line.name}`" for line, _, _ in machine.off_tick),
        fits=gcd(*times) if times else 1,
        related=tuple((span, error.message) for _, error, span in machine.off_tick[:_SHOWN]),
    )


def _times_of(line: PartLine) -> list[int]:
    """Every time of a part's line, in whole ms."""
    numbers = [item for clause in line.clauses for item in clause.items if isinstance(item, Number) and item.unit]
    found = [convert(float(number.text), number.unit or "", "ms") for number in numbers]
    return [int(time) for time in found if time is not None and time >= 1 and time == int(time)]


def _place(line: PartLine, clause: int | None, item: int | None) -> Span:
    if clause is None:
        return line.span
    where: Clause = line.clauses[clause]
    return where.span if item is None else where.items[item].span


def _neutral(item: Word | Number | Interval | Text) -> neutral.Item:
    match item:
        case Word(text=text):
            return neutral.Word(text)
        case Text(text=text):
            return neutral.Quoted(text)
        case Number():
            return _quantity(item)
        case Interval(low=low, high=high):
            return neutral.Interval(_quantity(low), _quantity(high))


def _quantity(number: object) -> neutral.Quantity:
    if isinstance(number, Negate):
        inner = _quantity(number.operand)
        return neutral.Quantity(-inner.value, inner.unit)
    if not isinstance(number, Number):
        raise TypeError(f"a clause holds numbers, not {number!r}")
    return neutral.Quantity(float(number.text), number.unit)


# ----------------------------------------------------- who refers to whom


def _check_names(machine: Machine, name: str, reporter: Reporter) -> None:
    """The parts that a part names must be there; one that names a broken part is broken with it."""
    line = machine.lines[name]
    for other in _named_parts(machine.parts[name]):
        if other in machine.broken:
            machine.broken.add(name)
        elif other not in machine.lines:
            mend = did_you_mean(other, [n for n in machine.lines if n != name])
            reporter.report("part-unknown", _word(line, other), name=other, by=name, mend=mend)
            machine.broken.add(name)


def _named_parts(part: Part) -> list[str]:
    named = [i.of.partition(".")[0] for i in part.inputs if i.source == "part"]
    if isinstance(part, Mover):
        named += [vessel for vessel in (part.source, part.destination) if vessel is not None]
    return list(dict.fromkeys(named))


def _assemble(machine: Machine, reporter: Reporter) -> Assembly | None:
    """All sound parts put together, which finds what does not fit; None unless all parts are sound."""
    try:
        assembly = Assembly(tuple(part for name, part in machine.parts.items() if name not in machine.broken))
    except AssemblyError as error:
        for problem in error.problems:
            if problem.part in machine.broken:
                continue
            line = machine.lines[problem.part]
            named = machine.parts[problem.part].given.get(problem.slot)
            span = _word(line, named) if isinstance(named, str) else line.span
            fields: dict[str, Any] = {"kind": line.kind, "name": line.name, "problem": problem.message}
            reporter.report("part-misfit", span, mend=problem.mend or None, **fields)
            machine.broken.add(problem.part)
        return None
    return None if machine.broken else assembly


def _report_heights(assembly: Assembly, machine: Machine, reporter: Reporter) -> None:
    """What watches a level stands where the level comes to."""
    for part in assembly.parts:
        watched = next((each.of for each in part.inputs if each.source == "part" and each.of in assembly.outputs), None)
        if part.acts_at is None or watched is None:
            continue
        rim = assembly.outputs[watched].high
        if rim is not None and part.acts_at > rim:
            vessel, at = watched.partition(".")[0], f"{part.acts_at:.6g}"
            span = machine.lines[part.name].span
            reporter.report("acts-above-rim", span, name=part.name, at=at, vessel=vessel, rim=f"{rim:.6g}")


def _word(line: PartLine, text: str) -> Span:
    for clause in line.clauses:
        for item in clause.items:
            if isinstance(item, Word) and item.text == text:
                return item.span
    return line.span
