"""A chain of reasons in words."""

from __future__ import annotations

from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.teaching.causes import Cause, Change
from rungproof.logic.teaching.why import Link


def value_words(value: Scalar, unit: str | None = None) -> str:
    """`on`, `off`, `12.5 L`."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:.6g}" + ("" if unit is None else f" {unit}")


def unit_of(program: Program, key: str) -> str | None:
    knob = program.knobs.get(key)
    tag = program.controller.tags.get(key) if program.controller is not None else None
    unit = knob.unit if knob is not None else tag.unit if tag is not None else None
    return None if unit is None else unit.symbol


def link_words(program: Program, link: Link) -> str:
    """`fan is on since 1.01 s: power reached it`."""
    value = value_words(link.value, unit_of(program, link.name))
    where = "" if link.rung is None else f", in rung {link.rung}"
    return f"{link.name} {value}{where}: {link.words}"


def cause_words(program: Program, cause: Cause, name: str) -> str:
    """`start_pb was off until 1 s; had it been on, fan would be off`."""
    was = " and ".join(_was(program, change) for change in cause.changes)
    instead = " and ".join(_instead(program, change) for change in cause.changes)
    becomes = value_words(cause.becomes, unit_of(program, name))
    alone = " (one of them alone would have changed nothing)" if len(cause.changes) > 1 else ""
    return f"{was}. Had {instead}, {name} would be {becomes}{alone}."


def _was(program: Program, change: Change) -> str:
    knob = program.knobs[change.key]
    value = value_words(change.was, unit_of(program, change.key))
    if knob.kind == "parameter":
        return f"{change.key} is {value}"
    return f"{change.key} was {value} from {time_words(change.from_ms)} until {time_words(change.until_ms)}"


def _instead(program: Program, change: Change) -> str:
    value = value_words(change.instead, unit_of(program, change.key))
    whole = (change.from_ms, change.until_ms) == (change.changed_from_ms, change.changed_until_ms)
    during = f" from {time_words(change.changed_from_ms)} until {time_words(change.changed_until_ms)}"
    return f"{change.key} been {value}{'' if whole else during}"
