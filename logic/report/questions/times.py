"""Times, memory and hands: presets that nothing bounds, what a power cut leaves, two hands, power that comes back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rungproof.logic.checks.expressions import form_expressions, requirement_times, whole_numbers
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import AfterNever, Condition, Rung, Stage
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import AllOf, EdgeOf, Expression, PartReading, StageReading, TagValue
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.sentences import ALIKE, times_in
from rungproof.logic.report.questions.spoken import Spoken, above, names_of, read_in, rungs_of

#: A requirement's time is taken to be about a preset where it lies within this factor of it. Declared, no source.
NEAR = 2


@dataclass(frozen=True, slots=True)
class Preset:
    """A timer or counter with its preset in words. `bounded_by`: requirements that say a time near it of what leads to
    it, or read how far it has come; `named_by`: those that name it; `read`: whether any rung does."""

    rung: str
    stage: str
    kind: str
    preset: str
    bounded_by: tuple[str, ...]
    named_by: tuple[str, ...]
    read: bool


def presets_of(spoken: Spoken) -> Iterator[Preset]:
    """Every stage that has a preset, in the order of the file."""
    rungs = [rung for _, rung in rungs_of(spoken.program)]
    for rung in rungs:
        for stage in rung.elements:
            if isinstance(stage, Stage) and stage.preset is not None:
                values = sorted(whole_numbers(spoken.program, stage.preset))
                timed = "count" not in stage.kind
                words = " to ".join(dict.fromkeys(time_words(v) if timed else str(v) for v in (values[0], values[-1])))
                bounded = tuple(_bounding(spoken, rung, stage, values, timed))
                drives = bool(rung.outputs) or rung.elements[-1] is not stage
                read = drives or any(stage.name in read_in(each) for each in rungs)
                yield Preset(rung.name, stage.name, stage.kind, words, bounded, spoken.of(stage.name), read)


def _bounding(spoken: Spoken, rung: Rung, stage: Stage, values: list[int], timed: bool) -> Iterator[str]:
    """Requirements that read how far the stage has come, or say a time near its preset of what leads to it. Those
    `with outputs free` say nothing of a program's timer."""
    about = above(rung, stage) or {output.target for output in rung.outputs}
    about |= {spoken.source_of[name] for name in about if name in spoken.source_of}
    for requirement in spoken.program.requirements:
        times = [each for each in requirement_times(spoken.program, requirement) if each > 0]
        near = timed and any(values[0] <= each * NEAR and each <= values[-1] * NEAR for each in times)
        nodes = [node for each in form_expressions(requirement) for node in leaves(each)]
        followed = any(isinstance(node, StageReading) and node.stage == stage.name for node in nodes)
        if followed or (near and spoken.read_by(requirement) & about and not requirement.outputs_free):
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
        name = (preset.stage,)
        if not preset.read:
            asked = f"What is {preset.stage} in rung {preset.rung} there for?"
            yield Question(
                name, asked, "No rung reads it, and no output stands below it: whatever it times changes nothing."
            )
        elif not preset.bounded_by:
            yield Question(
                name,
                f"{preset.stage} in rung {preset.rung}: where does {preset.preset} come from? What if it were a tenth "
                "of that, or ten times?",
                "No requirement says a time of that size of what leads to it.",
            )
    yield from _remarks(spoken)


def _remarks(spoken: Spoken) -> Iterator[Question]:
    """A rung whose remark says a time, and whose timers say another."""
    for where, rung in rungs_of(spoken.program):
        said = times_in(rung.remark or "")
        stages = [each for each in rung.elements if isinstance(each, Stage) and "count" not in each.kind]
        presets = {value for each in stages for value in whole_numbers(spoken.program, each.preset)}
        near = any(a <= b * ALIKE and b <= a * ALIKE for a in said for b in presets)
        if said and presets and not near:
            told, set_to = (" and ".join(time_words(each) for each in sorted(times)) for times in (said, presets))
            yield Question(
                tuple(each.name for each in stages),
                f"Which time is meant in {where}, {told} or {set_to}?",
                f"Its remark says {told}, its timer {set_to}.",
            )


def _hands(spoken: Spoken) -> Iterator[Question]:
    """Two buttons in series that both have to be held: within what time of each other, and once more when?"""
    for where, rung in rungs_of(spoken.program):
        held = list(dict.fromkeys(name for name in _series(rung) if _button(spoken, name)))
        devices = {spoken.source_of.get(name, name) for name in held}
        if len(devices) > 1 and not _timed(spoken, rung, set(held)):
            yield Question(
                tuple(held),
                f"Within what time of each other must {' and '.join(held)} come?",
                f"They stand in series in {where}, and no timer that hears both decides there: one may be tied down. A "
                "two-hand control of type III asks for half a second at most (ISO 13851, from memory).",
            )
        if len(devices) > 1:
            yield from _again(spoken, rung, where, held)


def _again(spoken: Spoken, rung: Rung, where: str, held: list[str]) -> Iterator[Question]:
    """What must be let go before a machine that two hands start goes once more: does anything ask for it?"""
    for output in rung.outputs:
        ended = [each.form.trigger for each in spoken.program.requirements if isinstance(each.form, AfterNever)]
        edges = [leaf for each in ended for leaf in leaves(each) if isinstance(leaf, EdgeOf) and leaf.kind == "falling"]
        about = {output.target, *(name for name, tags in spoken.driven_by.items() if output.target in tags)}
        if not any(names_of([edge]) & about for edge in edges):
            yield Question(
                (output.target,),
                f"Once {output.target} has ended, what must be let go before it comes again?",
                f"{' and '.join(held)} start it in {where}, and no requirement says what comes after its end (`after "
                f"falling {output.target} never {output.target} until ...`). A two-hand control starts again only "
                "after both were let go (ISO 13851, from memory).",
            )


def _timed(spoken: Spoken, rung: Rung, held: set[str]) -> bool:
    """Whether a rung depends, through any memories, on a timer whose path hears more than one of `held`."""
    rungs = [each for _, each in rungs_of(spoken.program)]
    read: set[str] = set()
    waiting = set(read_in(rung)) | {each.name for each in rung.elements if isinstance(each, Stage)}
    while waiting:
        read |= waiting
        feeding = [each for each in rungs if {output.target for output in each.outputs} & waiting]
        waiting = {name for each in feeding for name in (*read_in(each), *_stages(each))} - read
    stages = [(each, stage) for each in rungs for stage in each.elements if isinstance(stage, Stage) and stage.preset]
    return any(stage.name in read and len(above(each, stage) & held) > 1 for each, stage in stages)


def _stages(rung: Rung) -> list[str]:
    return [each.name for each in rung.elements if isinstance(each, Stage)]


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


def _button(spoken: Spoken, name: str) -> bool:
    """Whether a name is a push-button, or an input that one closes: it rests open, so that closed means pressed."""
    device = spoken.source_of.get(name, name)
    if spoken.kinds.get(device) != "push_button" or spoken.plant is None:
        return False
    part = next(each for each in spoken.plant.assembly.parts if each.name == device)
    wired = {wire.source for wire in spoken.plant.inputs if wire.tag == name}
    return all(each.kind == "make" for each in part.contacts if not wired or f"{device}.{each.name}" in wired)


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
