"""What a run can reach of a requirement, short of violating it, said as requirements of our own.

Each mark is a requirement that is violated exactly where the mark is reached, so that every engine
and every prover can look for it: `R3?release` forbids what releases R3 once its trigger came.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import (
    AfterNever,
    Always,
    AtMost,
    Before,
    Form,
    Never,
    Program,
    Requirement,
    Stood,
    Whenever,
)
from rungproof.logic.meaning.typed import Binary, Constant, Expression

_NOWHERE = Span("", 1, 1, 1)

#: A deadline counts as approached when nine tenths of it have passed.
APPROACHED = (9, 10)

#: Never violated: a search that looks for marks has nothing that ends it.
ENDLESS = "?endless"


def marked(program: Program) -> Program:
    """`program` with the marks of all its requirements beside them, named `REQUIREMENT?MARK`."""
    marks = [mark for requirement in program.requirements for mark in marks_of(requirement)]
    return replace(program, requirements=(*program.requirements, *marks, *_endless(program)))


def _endless(program: Program) -> Iterator[Requirement]:
    """One for each scope that the program's requirements have."""
    seen = {(False, False)} | {(r.any_one_fault, r.outputs_free) for r in program.requirements}
    for any_one_fault, outputs_free in sorted(seen):
        name = f"{ENDLESS}{int(any_one_fault)}{int(outputs_free)}"
        instants = "scan" if program.plant is None else "tick"
        yield Requirement(
            name=name,
            sentence="",
            restatement="",
            against=(),
            form=Never(_never()),
            from_time=None,
            outputs_free=outputs_free,
            any_one_fault=any_one_fault,
            instants="scan" if instants == "scan" else "tick",
            looked_at="in the program",
            horizon=0,
            span=_NOWHERE,
        )


def marks_of(requirement: Requirement) -> Iterator[Requirement]:
    """The marks of one requirement, in the order in which a run comes to them."""
    for name, form in _forms(requirement.form):
        yield replace(requirement, name=f"{requirement.name}?{name}", form=form)


def _forms(form: Form) -> Iterator[tuple[str, Form]]:
    match form:
        case Whenever():
            yield "trigger", Never(form.trigger)
            if form.mode == "within" and form.time is not None:
                yield "deadline approached", replace(form, time=_nearly(form.time))
                yield "release", AfterNever(form.trigger, form.response, _never())
            if form.mode == "for" and form.time is not None:
                yield "time run out", Whenever(form.trigger, _never(), "within", form.time)
        case Stood():
            yield "trigger", Never(form.trigger)
            yield "deadline approached", Stood(form.trigger, _nearly(form.time), _never())
            yield "time run out", Stood(form.trigger, form.time, _never())
        case AfterNever():
            yield "trigger", Never(form.trigger)
            yield "release", AfterNever(form.trigger, form.release, _never())
        case AtMost():
            yield "trigger", Never(form.event)
            if form.count > 1:
                yield "limit reached", AtMost(form.count - 1, form.event, form.time)
        case Before():
            yield "trigger", Never(form.then)
        case Never() | Always():
            pass


def _never() -> Expression:
    return Constant(type="bool", span=_NOWHERE, low=0, high=0, value=False)


def _nearly(time: Expression) -> Expression:
    """Nine tenths of a time, at least 1 ms."""
    if isinstance(time, Constant):
        value = max(1, int(time.value) * APPROACHED[0] // APPROACHED[1])
        return replace(time, low=value, high=value, value=value)
    times, over = (Constant(type="int", span=_NOWHERE, low=n, high=n, value=n) for n in APPROACHED)
    low, high = int(time.low), int(time.high)
    product = Binary(
        type="int",
        span=_NOWHERE,
        low=low * APPROACHED[0],
        high=high * APPROACHED[0],
        operator="*",
        left=time,
        right=times,
    )
    return Binary(
        type="int",
        span=_NOWHERE,
        low=low * APPROACHED[0] // APPROACHED[1],
        high=high * APPROACHED[0] // APPROACHED[1],
        operator="/",
        left=product,
        right=over,
    )
