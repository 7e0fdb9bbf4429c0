"""What an expectation that was not met would have needed, and what was there instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rungproof.logic.checks.words import rounded, time_words
from rungproof.logic.engines.observer import Contacts
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.meaning.program import Expectation
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import Expression, PartReading, StageOutput, StageReading, TagValue, Typed


@dataclass(slots=True)
class _Watch:
    """One expectation: the instant that tells against it (ms), and what it reads then, in words."""

    expectation: Expectation
    memory: dict[str, Any] = field(default_factory=dict)
    at_ms: int | None = None
    values: tuple[str, ...] = ()

    def look(self, t: int, moment: Moment) -> None:
        expected = self.expectation
        moment.memory = self.memory  # edges of this expectation, apart from everybody else's
        holds = bool(evaluate(expected.condition, moment))
        inside = expected.from_ms <= t <= expected.from_ms + expected.time_ms and not holds
        if expected.mode == "at end" or (inside and (expected.mode == "within" or self.at_ms is None)):
            self._keep(t, moment)

    def _keep(self, t: int, moment: Moment) -> None:
        read = {name: node for node in leaves(self.expectation.condition) if (name := _name(node))}
        self.at_ms, self.values = t, tuple(f"{name} {_value(node, moment)}" for name, node in read.items())

    @property
    def words(self) -> str:
        """`at 1.3 s P1.lit off`; "" where the run never came to it."""
        if self.at_ms is None:
            return ""
        last = ", the last instant that counts," if self.expectation.mode == "within" else ""
        return f"at {time_words(self.at_ms)}{last} {', '.join(self.values)}"


class ExpectedSeen:
    """An observer of the reference engine's run. `words` go with the expectations, in order."""

    def __init__(self, expectations: Sequence[Expectation]) -> None:
        self._watches = [_Watch(each) for each in expectations]

    @property
    def words(self) -> Iterator[str]:
        return (each.words for each in self._watches)

    def instant(self, t: int, moment: Moment, at_scan: bool) -> None:
        for watch in self._watches:
            watch.look(t, moment)

    def scan(self, t: int, contacts: Contacts, conducting: Mapping[str, tuple[bool, ...]]) -> None:
        """Of no interest here."""

    def circuits(self, t: int, contacts: Contacts) -> None:
        """Of no interest here."""


def _name(node: Typed) -> str | None:
    match node:
        case TagValue(tag=name) | StageOutput(stage=name) | PartReading(key=name):
            return name
        case StageReading(stage=stage):
            return f"{stage}.{node.field}"
    return None


def _value(node: Expression | Typed, moment: Moment) -> str:
    assert isinstance(node, TagValue | StageOutput | PartReading | StageReading)
    value = evaluate(node, moment)
    if isinstance(value, bool):
        return "on" if value else "off"
    unit = f" {node.unit.symbol}" if node.unit is not None else ""
    return f"{rounded(float(value))}{unit}"
