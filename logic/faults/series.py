"""What a run told, as steps in time, and where two runs part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rungproof.logic.engines.forked import Row


@dataclass(frozen=True, slots=True)
class Steps:
    """One value in time: it becomes `values[i]` at `times[i]` (ms) and stays until the next; it ends at `end`."""

    times: tuple[int, ...]
    values: tuple[Any, ...]
    end: int

    def pieces(self, since: int) -> Iterator[tuple[int, int, Any]]:
        """Stretches of one value: from, to, value; those that end by `since` are left out."""
        for i, value in enumerate(self.values):
            until = self.times[i + 1] if i + 1 < len(self.times) else self.end
            if until > since:
                yield max(self.times[i], since), until, value

    def at(self, time: int) -> Any:
        """The value at a time; the first one before that."""
        found = self.values[0] if self.values else None
        for when, value in zip(self.times, self.values, strict=True):
            if when > time:
                break
            found = value
        return found

    def stays_from(self, value: Any, since: int) -> int | None:
        """When it takes `value` and keeps it to the end, `since` or later; None if it does not end so."""
        found: int | None = None
        for begins, _, each in self.pieces(since):
            found = (begins if found is None else found) if each == value else None
        return found


def column(rows: Sequence[Row], index: int, end: int) -> Steps:
    """Column `index` (counted from 0, time left out) of what a run told."""
    times: list[int] = []
    values: list[Any] = []
    for row in rows:
        value = row[index + 1]
        if not values or values[-1] != value:
            times.append(int(row[0]))
            values.append(value)
    return Steps(tuple(times), tuple(values), end)


def parts_at(one: Steps, other: Steps, since: int, hold_ms: int) -> int | None:
    """When, `since` or later, the two begin to differ for `hold_ms` without a break, or to the end; None if never."""
    end = min(one.end, other.end)
    marks = sorted({since, *(t for t in (*one.times, *other.times) if since < t < end)})
    began: int | None = None
    for place, mark in enumerate(marks):
        if one.at(mark) == other.at(mark):
            began = None
            continue
        began = mark if began is None else began
        until = marks[place + 1] if place + 1 < len(marks) else end
        if until - began >= hold_ms or until == end:
            return began
    return None
