"""A story as a `scenario` block: what `rungproof replay` runs and what pastes into the file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.tree import Span
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.words import time_parts
from rungproof.logic.meaning.program import Event, Knob, Program, Story
from rungproof.logic.meaning.typed import Scalar

#: These nodes come from no file.
NOWHERE = Span("", 1, 1, 1)

#: Words that begin and end a stretch, for the knobs that are on or off and have such words.
Begin = Literal["press", "fault", "cut", "stop"]
End = Literal["release", "clear", "restore", "resume"]
STRETCH: dict[Begin, End] = {"press": "release", "fault": "clear", "cut": "restore", "stop": "resume"}


def story_block(program: Program, story: Story, title: str, requirement: str | None = None) -> str:
    """The story as text, a scenario called `title` (headed by the requirement's name, if given).

    Parsed again in the context of the same program it gives the same story, up to `tidy`.
    """
    sentence = title if requirement is None else f"{requirement}: {title}"
    return to_text(story_tree(program, story, sentence))


def story_tree(program: Program, story: Story, sentence: str) -> tree.Scenario:
    """The story as a tree. A sentence cannot hold quotes or line ends: they are replaced."""
    story = tidy(program, story)
    clean = " ".join(sentence.replace('"', "'").split())
    lines: list[tree.At | tree.ParameterLine | tree.ScansLine | tree.NoiseLine | tree.EndsLine] = []
    for key, value in story.parameters:
        lines.append(tree.ParameterLine(NOWHERE, tree.Name(NOWHERE, key), _value(program.knobs.get(key), value)))
    if story.scans:
        lines.append(tree.ScansLine(NOWHERE, tuple(_time(ms) for ms in story.scans)))
    if story.seed or story.lane:
        lines.append(tree.NoiseLine(NOWHERE, story.seed, story.lane))
    lines.extend(_event_lines(program.knobs, story.events))
    lines.append(tree.EndsLine(NOWHERE, _time(story.duration_ms)))
    return tree.Scenario(NOWHERE, clean, tuple(lines))


def _event_lines(knobs: Mapping[str, Knob], events: tuple[Event, ...]) -> list[tree.At]:
    """One line per event, a beginning and its end joined by `for`."""
    lines = []
    ended: set[int] = set()
    for place, event in enumerate(events):
        if place in ended:
            continue
        knob = knobs.get(event.key)
        begin = _begin_word(knob, event.key)
        if begin is None:
            lines.append(_at(event, "set", _target(event.key), _value(knob, event.value)))
            continue
        target, argument = _stretch_target(event.key, begin)
        if not event.value:
            lines.append(_at(event, STRETCH[begin], target, argument))
            continue
        end = _end_of(events, place)
        if end is not None:
            ended.add(end)
        lasting = None if end is None else _time(events[end].at_ms - event.at_ms)
        lines.append(_at(event, begin, target, argument, lasting))
    return lines


def _end_of(events: tuple[Event, ...], place: int) -> int | None:
    """The index of the event that ends what `place` begins; None if it lasts or begins again first."""
    for later in range(place + 1, len(events)):
        if events[later].key == events[place].key:
            return None if events[later].value else later
    return None


def _begin_word(knob: Knob | None, key: str) -> Begin | None:
    match knob.kind if knob else None:
        case "operator" if key.endswith(".pressed"):
            return "press"
        case "fault":
            return "fault"
        case "power":
            return "cut"
        case "stop":
            return "stop"
        case _:
            return None


def _stretch_target(key: str, begin: Begin) -> tuple[tree.Name, tree.Word | None]:
    """`S1.pressed` is pressed as `S1`; `LT1!echo_lost` is fault `echo_lost` of `LT1`."""
    if begin == "press":
        return _target(key.removesuffix(".pressed")), None
    owner, _, what = key.partition("!")
    return _target(owner), tree.Word(NOWHERE, what) if begin == "fault" else None


def _target(key: str) -> tree.Name:
    return tree.Name(NOWHERE, key)


def _at(
    event: Event,
    action: Begin | End | Literal["set"],
    target: tree.Name,
    argument: tree.Expression | tree.Word | None,
    lasting: tree.Number | None = None,
) -> tree.At:
    return tree.At(NOWHERE, _time(event.at_ms), action, target, argument, lasting)


def _time(ms: int) -> tree.Number:
    number, unit = time_parts(ms)
    return tree.Number(NOWHERE, number, unit)


def _value(knob: Knob | None, value: Scalar) -> tree.Expression:
    if isinstance(value, bool):
        return tree.Truth(NOWHERE, value)
    unit = knob.unit.symbol if knob is not None and knob.unit is not None else None
    text = repr(abs(value))
    number = tree.Number(NOWHERE, text.removesuffix(".0"), unit)
    return tree.Negate(NOWHERE, number) if value < 0 else number
