"""What a strip chart holds: bands of tags and quantities, marks of what happened, waits, violations.

Times are milliseconds from the start of the run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

#: In the order in which a chart shows them.
Group = Literal["inputs", "stages", "memory", "outputs", "plant", "contacts"]
GROUPS: tuple[Group, ...] = ("inputs", "stages", "memory", "outputs", "plant", "contacts")


@dataclass(frozen=True, slots=True)
class Truth:
    """Something that is on or off. `changes` are (time, value), the first at the strip's beginning.

    `off` and `on` are the words for its states: `dark` and `lit` for a lamp.
    """

    name: str
    group: Group
    changes: tuple[tuple[int, bool], ...]
    off: str = "off"
    on: str = "on"

    @property
    def steady(self) -> bool:
        return len(self.changes) == 1

    @property
    def named(self) -> bool:
        """Whether its states have words of their own."""
        return self.on != "on"


@dataclass(frozen=True, slots=True)
class Number:
    """A quantity. `points` are (time, value), thinned where a picture could not show more; `low..high` is its span.

    `stepped`: it stands until it changes (a tag); else it moves between points (a quantity of the plant).
    """

    name: str
    group: Group
    points: tuple[tuple[int, float], ...]
    low: float
    high: float
    unit: str | None
    stepped: bool

    @property
    def steady(self) -> bool:
        return self.low == self.high


Band = Truth | Number
#: How a wait ended.
Ended = Literal["met", "violated", "not met", "open"]
MarkKind = Literal["event", "fault", "power", "cut short"]


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened to the run at `at_ms`, in the words of a scenario: `press S1 for 200 ms`."""

    at_ms: int
    kind: MarkKind
    words: str


#: The name under which a scenario's expectations wait.
EXPECT = "expect"


@dataclass(frozen=True, slots=True)
class Wait:
    """A stretch in which a requirement (or an expectation) was waiting for something.

    `ended` says how it ended: `met`, `violated`, `not met`, or `open` where the run ended first.
    """

    name: str
    start_ms: int
    end_ms: int
    words: str
    ended: Ended


@dataclass(frozen=True, slots=True)
class Violation:
    """The first instant at which a requirement is violated. `counts`: this run alone violates it; `words` say more."""

    name: str
    at_ms: int
    sentence: str
    restatement: str
    counts: bool
    words: str


@dataclass(frozen=True, slots=True)
class Strip:
    """A run as a chart shows it. `steady` are the bands that never change, told in words instead."""

    title: str
    first_ms: int
    last_ms: int
    bands: tuple[Band, ...]
    steady: tuple[Band, ...]
    marks: tuple[Mark, ...]
    waits: tuple[Wait, ...]
    violations: tuple[Violation, ...]

    @property
    def until_ms(self) -> int:
        """Where a picture ends: a little after the last instant, so that what came at it is seen."""
        return self.last_ms + max((self.last_ms - self.first_ms) // 30, 1)

    @property
    def span_ms(self) -> int:
        return self.until_ms - self.first_ms

    def numbered(self) -> Sequence[tuple[int, Mark]]:
        """The marks with the numbers under which pictures and lists speak of them."""
        return list(enumerate(self.marks, start=1))
