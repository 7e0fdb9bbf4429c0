"""Times, memory and hands: presets that nothing bounds, what a power cut leaves, two hands, power that comes back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rungproof.logic.checks.expressions import requirement_times, whole_numbers
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Condition, Rung, Stage
from rungproof.logic.meaning.typed import AllOf, Expression, PartReading, TagValue
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.spoken import Spoken, above, names_of, rungs_of

#: A requirement's time is taken to be about a preset where it lies within this factor of it. Declared, no source.
NEAR = 2


@dataclass(frozen=True, slots=True)
class Preset:
    """A timer or counter with its preset in words, and the requirements whose times or names are about it."""

    rung: str
    stage: str
    kind: str
    preset: str
    bounded_by: tuple[str, ...]


def presets_of(spoken: Spoken) -> Iterator[Preset]:
    """Every stage that has a preset, in the order of the file."""
    for _, rung in rungs_of(spoken.program):
        for stage in rung.elements:
            if isinstance(stage, Stage) and stage.preset is not None:
                values = sorted(whole_numbers(spoken.program, stage.preset))
                timed = "count" not in stage.kind
                words = " to ".join(dict.fromkeys(time_words(v) if timed else str(v) for v in (values[0], values[-1])))
                yield Preset(
                    rung.name, stage.name, stage.kind, words, tuple(_bounding(spoken, rung, stage, values, timed))
                )


def _bounding(spoken: Spoken, rung: Rung, stage: Stage, values: list[int], timed: bool) -> Iterator[str]:
    """Requirements that name the stage, or say a time near its preset of what leads to it. Those
    `with outputs free` say nothing of a program's timer."""
    about = above(rung, stage) or {output.target for output in rung.outputs}
    about |= {spoken.source_of[name] for name in about if name in spoken.source_of}
    for requirement in spoken.program.requirements:
        read = spoken.read_by(requirement)
        times = [each for each in requirement_times(spoken.program, requirement) if each > 0]
        near = timed and any(values[0] <= each * NEAR and each <= values[-1] * NEAR for each in times)
        if stage.name in read or (near and read & about and not requirement.outputs_free):
            said = f" ({', '.join(time_words(each) for each in sorted(times))})" if near else ""
            yield requirement.name + said


def ask_of_times(spoken: Spoken) -> Iterator[Question]:
    """All questions about times and memory."""
    yield from _presets(spoken)
    yield from _hands(spoken)
    yield from _retained(spoken)
    yield from _power(spoken)


def _presets(spoken: Spoken) -> Iterator[Question]:
    for preset in presets_of(spoken):
        if not preset.bounded_by:
            yield Question(
                (preset.stage,),
                f"{preset.stage} in rung {preset.rung}: where does {preset.preset} come from? What if it were a tenth "
                "of that, or ten times?",
                "No requirement names it, or says a time of that size of what it decides.",
            )


def _hands(spoken: Spoken) -> Iterator[Question]:
    """Two buttons in series that both have to be held: within what time of each other?"""
    for where, rung in rungs_of(spoken.program):
        held = list(dict.fromkeys(name for name in _series(rung) if _button(spoken, name)))
        devices = {spoken.source_of.get(name, name) for name in held}
        if len(devices) < 2:
            continue
        timed = any(
            len(above(other, stage) & set(held)) > 1 or any(_both(each, set(held)) for each in _lines(other))
            for _, other in rungs_of(spoken.program)
            for stage in other.elements
            if isinstance(stage, Stage) and stage.preset is not None
        )
        if not timed:
            yield Question(
                tuple(held),
                f"Within what time of each other must {' and '.join(held)} come?",
                f"They stand in series in {where}, and no timer hears both: one may be tied down. A two-hand control "
                "of type III asks for half a second at most (ISO 13851, from memory).",
            )


def _series(rung: Rung) -> Iterator[str]:
    """Tags and devices whose plain contact stands in series in a rung."""
    for expression in _lines(rung):
        parts = expression.operands if isinstance(expression, AllOf) else (expression,)
        for part in parts:
            if isinstance(part, TagValue):
                yield part.tag
            elif isinstance(part, PartReading):
                yield part.key.partition(".")[0]


def _lines(rung: Rung) -> Iterator[Expression]:
    yield from (each.expression for each in rung.elements if isinstance(each, Condition))


def _both(expression: Expression, names: set[str]) -> bool:
    return len(names_of([expression]) & names) > 1


def _button(spoken: Spoken, name: str) -> bool:
    """Whether a name is a push-button, or an input that one closes: it rests open, so that closed means pressed."""
    device = spoken.source_of.get(name, name)
    if spoken.kinds.get(device) != "push_button" or spoken.plant is None:
        return False
    part = next(each for each in spoken.plant.assembly.parts if each.name == device)
    return all(contact.kind == "make" for contact in part.contacts)


def _retained(spoken: Spoken) -> Iterator[Question]:
    controller = spoken.controller
    if controller is None:
        return
    kept = [tag.name for tag in controller.tags.values() if tag.retained]
    kept += [stage.name for stage in controller.stages.values() if stage.retained]
    power = set(spoken.speaks_of_power())
    for name in kept:
        if not power & set(spoken.of(name)) and not power:
            yield Question(
                (name,),
                f"What may {name} bring about when power comes back, with nobody touching anything?",
                "It is retained: it stands through a power cut, and no requirement speaks of power that comes back.",
            )


def _power(spoken: Spoken) -> Iterator[Question]:
    moving = spoken.moving()
    if moving and not spoken.speaks_of_power():
        yield Question(
            moving,
            f"May {', '.join(moving)} come on when power comes back, or when the controller goes on after a stop?",
            "No requirement speaks of `power_up`. What was tried of it stands under `Starting again`.",
        )
