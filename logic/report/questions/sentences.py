"""Sentences that promise more, or something else, than the formula below them asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator

from rungproof.logic.checks.expressions import form_expressions, requirement_times, walk
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Requirement
from rungproof.logic.meaning.typed import AllOf, AnyOf, Inverse
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.spoken import Spoken

_MS = {"ms": 1, "millisecond": 1, "s": 1000, "second": 1000, "min": 60_000, "minute": 60_000, "h": 3_600_000}
_MS["hour"] = _MS["h"]
_SMALL = (
    "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen twenty"
)
_NUMBER = {word: float(place) for place, word in enumerate(_SMALL.split(), start=1)}
_NUMBER |= {"a": 1.0, "an": 1.0, "any": 1.0, "half a": 0.5, "half an": 0.5, "a quarter of a": 0.25}
_NUMBER |= {"thirty": 30.0, "forty": 40.0, "fifty": 50.0, "sixty": 60.0, "ninety": 90.0}
_WORDS = "|".join(sorted(_NUMBER, key=len, reverse=True))
_UNITS = "ms|milliseconds?|s|seconds?|min|minutes?|h|hours?"
_SAID = re.compile(rf"\b(\d+(?:\.\d+)?|{_WORDS})[ -]({_UNITS})\b", re.IGNORECASE)
#: Two times are the same if they lie within this factor of each other: a scan more or less. Declared, no source.
ALIKE = 1.25

_NUMBERED = re.compile(r"([A-Za-z_]+)([1-9]\d{0,3})")
_FAILED = re.compile(r"\b(fail(s|ed|ing|ure)?|fault(s|y)?|weld(s|ed)?|broken|sticks?|stuck)\b", re.IGNORECASE)
_WHATEVER = re.compile(r"\b(whatever|no matter what|even if) the (program|controller|logic)\b", re.IGNORECASE)
_OR, _UNLESS = re.compile(r"\bor\b", re.IGNORECASE), re.compile(r"\b(unless|until|whether)\b", re.IGNORECASE)


def ask_of_sentences(spoken: Spoken) -> Iterator[Question]:
    """Each sentence beside its formula: times, `or`, what may fail, whose word counts."""
    for requirement in spoken.program.requirements:
        yield from _times(spoken, requirement)
        yield from _joints(requirement)
        yield from _scope(requirement)
    yield from _inside(spoken)
    yield from _unsaid(spoken)
    yield from _numbers(spoken)


def _numbers(spoken: Spoken) -> Iterator[Question]:
    """Names that are numbered through, and one of them is not there."""
    found: dict[str, set[int]] = {}
    for requirement in spoken.program.requirements:
        numbered = _NUMBERED.fullmatch(requirement.name)
        if numbered is not None:
            found.setdefault(numbered[1], set()).add(int(numbered[2]))
    for letters, numbers in found.items():
        missing = [f"{letters}{n}" for n in range(min(numbers), max(numbers)) if n not in numbers]
        if missing and len(missing) < len(numbers):
            yield Question(
                tuple(missing),
                f"{', '.join(missing)}: what did {'they' if missing[1:] else 'it'} ask for, and why is that gone?",
                f"Requirements are numbered from {letters}{min(numbers)} to {letters}{max(numbers)}, and "
                f"{'these are' if missing[1:] else 'this one is'} not among them.",
            )


def _times(spoken: Spoken, requirement: Requirement) -> Iterator[Question]:
    """Times of the sentence that the formula does not have, and the other way round; an hour of `at most` counts."""
    said = times_in(requirement.sentence)
    asked = {each for each in requirement_times(spoken.program, requirement) if each > 0}
    same = any(a <= b * ALIKE and b <= a * ALIKE for a in said for b in asked)
    if said and asked and not same:
        yield Question(
            (requirement.name,),
            f"{requirement.name}: which time is meant, {_list(said)} or {_list(asked)}?",
            f"The sentence says {_list(said)}, the formula {_list(asked)}.",
        )


def _unsaid(spoken: Spoken) -> Iterator[Question]:
    """Times that stand in formulas, and in no word of their sentences."""
    found = {}
    for requirement in spoken.program.requirements:
        asked = {each for each in requirement_times(spoken.program, requirement) if each > 0}
        if asked and not _SAID.search(requirement.sentence):
            found[requirement.name] = _list(asked)
    if found:
        told = ", ".join(f"{name} {times}" for name, times in found.items())
        yield Question(
            tuple(found),
            f"Are these times soon enough, or long enough: {told}?",
            "The formulas have them, and the sentences that people sign do not say them.",
        )


def times_in(said: str) -> set[int]:
    """The times (ms) that a sentence says, in figures or in words."""
    return {round(_number(number) * _ms(unit)) for number, unit in _SAID.findall(said)}


def _ms(unit: str) -> int:
    return _MS[unit.lower()] if unit.lower() in _MS else _MS[unit.lower().removesuffix("s")]


def _number(word: str) -> float:
    return _NUMBER[word.lower()] if word.lower() in _NUMBER else float(word)


def _list(times: set[int]) -> str:
    return " and ".join(time_words(each) for each in sorted(times))


def _joints(requirement: Requirement) -> Iterator[Question]:
    """An `or` in the sentence, and every condition of the formula joined by `and`."""
    nodes = [node for whole in form_expressions(requirement) for node in walk(whole)]
    either = any(isinstance(node, AnyOf) for node in nodes)
    several = [
        node
        for node in nodes
        if isinstance(node, AllOf) and sum(isinstance(each, Inverse) for each in node.operands) > 1
    ]
    said = _OR.search(requirement.sentence) and not _UNLESS.search(requirement.sentence)
    if said and not either and several:
        yield Question(
            (requirement.name,),
            f"{requirement.name}: must one of them suffice, or do all have to come together?",
            "The sentence says `or`; the formula joins all its conditions by `and`, and asks for nothing while one "
            "alone has come.",
        )


def _scope(requirement: Requirement) -> Iterator[Question]:
    name = (requirement.name,)
    if (
        _FAILED.search(requirement.sentence)
        and not requirement.any_one_fault
        and requirement.looked_at == "at the machine"
    ):
        yield Question(
            name,
            f"{requirement.name}: was it meant to hold with something failed?",
            "The sentence speaks of failing; the formula is judged with every part sound.",
        )
    if _WHATEVER.search(requirement.sentence) and not requirement.outputs_free:
        yield Question(
            name,
            f"{requirement.name}: was it meant to hold whatever the program does?",
            "The sentence says so; the formula is judged with this program at work, not `with outputs free`.",
        )


def _inside(spoken: Spoken) -> Iterator[Question]:
    """Requirements against a hazard that the program can talk its way out of: they read a memory or a stage."""
    controller = spoken.controller
    if controller is None:
        return
    kept = [*(name for name, tag in controller.tags.items() if tag.role == "memory"), *controller.stages]
    found = {
        r.name: [name for name in kept if name in spoken.read_by(r)] for r in spoken.program.requirements if r.against
    }
    found = {name: own for name, own in found.items() if own}
    if found:
        told = "; ".join(f"{name}: {', '.join(own)}" for name, own in found.items())
        yield Question(
            tuple(found),
            f"Do these still guard while the program has it wrong: {told}?",
            "Each stands against a hazard, and rests on what the program itself remembers or works out, not on inputs, "
            "outputs and the machine alone.",
        )
