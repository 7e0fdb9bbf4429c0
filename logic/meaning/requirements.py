"""Hazards, requirements and assumptions: from what is written to what monitors watch."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Block
from rungproof.logic.meaning import program
from rungproof.logic.meaning.expressions import type_contact, type_duration
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.program import Tag
from rungproof.logic.meaning.requirements_reading import Readings, readings_of
from rungproof.logic.meaning.restate import Restater
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.typed import AllOf, EdgeOf, Expression

LookedAt = Literal["in the program", "at the terminals", "at the machine"]


@dataclass(slots=True)
class Watcher:
    """Types formulas over the names of `scope`."""

    scope: Scope
    tags: dict[str, Tag]
    has_plant: bool
    restater: Restater
    reporter: Reporter

    # --------------------------------------------------------------- hazards

    def hazards(self, blocks: Iterable[Block]) -> list[program.Hazard]:
        return [self._hazard(b) for b in blocks if isinstance(b, tree.Hazard)]

    def _hazard(self, block: tree.Hazard) -> program.Hazard:
        safe = None
        if block.safe_state is not None:
            safe = type_contact(block.safe_state, self._context(f"hazard {block.name}"))
        return program.Hazard(block.name, block.sentence, safe, block.span)

    # ---------------------------------------------------------- requirements

    def requirements(self, blocks: list[Block]) -> list[program.Requirement]:
        """The requirements that could be typed whole."""
        hazards = {b.name: b for b in blocks if isinstance(b, tree.Hazard)}
        found = []
        guarded: set[str] = set()
        for block in blocks:
            if not isinstance(block, tree.Requirement):
                continue
            guarded |= self._against(block, hazards)
            requirement = self._requirement(block)
            if requirement is not None:
                found.append(requirement)
        for name, hazard in hazards.items():
            if name not in guarded:
                self.reporter.report("hazard-unguarded", hazard.span, name=name)
        return found

    def _against(self, block: tree.Requirement, hazards: dict[str, tree.Hazard]) -> set[str]:
        for name in block.against:
            if name.text not in hazards:
                mend = did_you_mean(name.text, hazards)
                self.reporter.report("hazard-unknown", name.span, name=name.text, mend=mend)
        return {name.text for name in block.against}

    def _requirement(self, block: tree.Requirement) -> program.Requirement | None:
        context = self._context(f"requirement {block.name}")
        from_time = type_duration(block.from_time, context) if block.from_time is not None else None
        form = _FORMS[type(block.form)](self, block.form, context)
        if form is None or (block.from_time is not None and from_time is None):
            return None
        conditions, times = parts_of(form)
        readings = readings_of(conditions)
        if not self._varies(readings):
            self.reporter.report("requirement-reads-nothing", block.span, name=block.name)
            return None
        self._scope_lines(block)
        return program.Requirement(
            name=block.name,
            sentence=block.sentence,
            restatement=self.restater.requirement(block),
            against=tuple(name.text for name in block.against),
            form=form,
            from_time=from_time,
            outputs_free=block.outputs_free,
            any_one_fault=block.any_one_fault,
            instants="tick" if readings.plant else "scan",
            looked_at=self._looked_at(readings),
            horizon=sum(int(time.high) for time in (*times, *([from_time] if from_time else []))),
            span=block.span,
        )

    def _varies(self, readings: Readings) -> bool:
        """Whether anything read can change in a run: parameters cannot."""
        tags = [n for n in readings.tags if self.tags[n].role != "parameter"]
        return bool(tags or readings.stages or readings.plant or readings.power)

    def _scope_lines(self, block: tree.Requirement) -> None:
        if block.outputs_free and not self.has_plant:
            self.reporter.report("outputs-free-without-plant", block.span, name=block.name)
        if block.any_one_fault and not self.has_plant:
            self.reporter.report("fault-without-plant", block.span, name=block.name)

    def _looked_at(self, readings: Readings) -> LookedAt:
        if readings.plant:
            return "at the machine"
        outside = [n for n in readings.tags if self.tags[n].role == "output"]
        inside = readings.stages or any(self.tags[n].role == "memory" for n in readings.tags)
        return "at the terminals" if outside and not inside else "in the program"

    def _context(self, owner: str) -> Context:
        parameters = frozenset(name for name, tag in self.tags.items() if tag.role == "parameter")
        return Context(self.scope, self.reporter, Slots(owner), parameters)

    # ----------------------------------------------------------------- forms

    def _whenever(self, form: tree.Whenever, context: Context) -> program.Whenever | None:
        trigger, response = type_contact(form.trigger, context), type_contact(form.response, context)
        time = type_duration(form.time, context) if form.time is not None else None
        if trigger is None or response is None or (form.time is not None and time is None):
            return None
        return program.Whenever(trigger, response, form.mode, time)

    def _stood(self, form: tree.Stood, context: Context) -> program.Stood | None:
        trigger, response = type_contact(form.trigger, context), type_contact(form.response, context)
        time = type_duration(form.time, context)
        if trigger is None or response is None or time is None:
            return None
        return program.Stood(trigger, time, response)

    def _after_never(self, form: tree.AfterNever, context: Context) -> program.AfterNever | None:
        typed = [type_contact(e, context) for e in (form.trigger, form.forbidden, form.release)]
        if typed[0] is None or typed[1] is None or typed[2] is None:
            return None
        return program.AfterNever(typed[0], typed[1], typed[2])

    def _at_most(self, form: tree.AtMost, context: Context) -> program.AtMost | None:
        event, time = type_contact(form.event, context), type_duration(form.time, context)
        count = _count(form.count, self.reporter)
        if event is not None and not _is_edge(event):
            self.reporter.report("event-not-edge", form.event.span)
            return None
        if event is None or time is None or count is None:
            return None
        return program.AtMost(count, event, time)

    def _before(self, form: tree.Before, context: Context) -> program.Before | None:
        first, then = type_contact(form.first, context), type_contact(form.then, context)
        return None if first is None or then is None else program.Before(first, then)

    def _never(self, form: tree.Never, context: Context) -> program.Never | None:
        condition = type_contact(form.condition, context)
        return None if condition is None else program.Never(condition)

    def _always(self, form: tree.Always, context: Context) -> program.Always | None:
        condition = type_contact(form.condition, context)
        return None if condition is None else program.Always(condition)

    # ----------------------------------------------------------- assumptions

    def assumptions(self, blocks: Iterable[Block]) -> list[program.Assumption]:
        read = [self._assumption(b) for b in blocks if isinstance(b, tree.Assume)]
        return [assumption for assumption in read if assumption is not None]

    def _assumption(self, block: tree.Assume) -> program.Assumption | None:
        condition = type_contact(block.condition, self._context(f'assume "{block.sentence}"'))
        if condition is None:
            return None
        readings = readings_of([condition])
        for name, span in readings.spans:
            tag = self.tags.get(name)
            if tag is None or tag.role in ("output", "memory"):
                what = f"{tag.role} tag" if tag is not None else "own state"
                self.reporter.report("assumes-own-doing", span, name=name, what=what)
                return None
        if not self._varies(readings):
            self.reporter.report("assumption-reads-nothing", block.span)
            return None
        restatement = self.restater.assumption(block.condition)
        return program.Assumption(
            block.sentence, restatement, condition, "tick" if readings.plant else "scan", block.span
        )


_FORMS: dict[type, Callable[..., program.Form | None]] = {
    tree.Never: Watcher._never,
    tree.Always: Watcher._always,
    tree.Whenever: Watcher._whenever,
    tree.Stood: Watcher._stood,
    tree.AfterNever: Watcher._after_never,
    tree.AtMost: Watcher._at_most,
    tree.Before: Watcher._before,
}


def parts_of(form: program.Form) -> tuple[list[Expression], list[Expression]]:
    """The conditions and the times of a form."""
    match form:
        case program.Never(condition=condition) | program.Always(condition=condition):
            return [condition], []
        case program.Whenever(trigger=trigger, response=response, time=time):
            return [trigger, response], [] if time is None else [time]
        case program.Stood(trigger=trigger, time=time, response=response):
            return [trigger, response], [time]
        case program.AfterNever(trigger=trigger, forbidden=forbidden, release=release):
            return [trigger, forbidden, release], []
        case program.AtMost(event=event, time=time):
            return [event], [time]
        case program.Before(first=first, then=then):
            return [first, then], []


def _count(number: tree.Number, reporter: Reporter) -> int | None:
    """The N of `at most N`: a whole number, 1 or more."""
    if number.unit is not None:
        return None
    if not number.text.isdigit() or int(number.text) < 1:
        reporter.report("at-most-count", number.span, written=number.text)
        return None
    return int(number.text)


def _is_edge(event: Expression) -> bool:
    """An edge, or a series with an edge in it: true for one instant at a time."""
    if isinstance(event, AllOf):
        return any(_is_edge(operand) for operand in event.operands)
    return isinstance(event, EdgeOf)
