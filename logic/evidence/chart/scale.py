"""Times and figures as an axis shows them."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.words import rounded

#: Steps of a time axis, in ms.
_STEPS = [
    factor * base
    for base, factors in ((1, (1, 2, 5)), (10, (1, 2, 5)), (100, (1, 2, 5)), (1000, (1, 2, 5, 10, 15, 30)))
    for factor in factors
] + [60_000 * n for n in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440)]


def ticks(first_ms: int, last_ms: int, most: int) -> list[int]:
    """Round times from `first_ms` to `last_ms`, at most `most` of them (2 or more)."""
    span = max(last_ms - first_ms, 1)
    step = next((step for step in _STEPS if span / step <= most - 1), None)
    if step is None:
        step = -(-span // (most - 1) // 86_400_000 + 1) * 86_400_000
        step = max(step, 86_400_000)
    start = -(-first_ms // step) * step
    return list(range(start, last_ms + 1, step))


def clock(ms: int, step_ms: int) -> str:
    """A time on the axis: `250 ms`, `1.5 s`, `2:30`, `1:05:00`; as fine as the step asks for."""
    if ms >= 60_000 or step_ms >= 60_000:
        seconds = ms // 1000
        hours, rest = divmod(seconds, 3600)
        minutes, rest = divmod(rest, 60)
        tail = f".{ms % 1000:03d}".rstrip("0") if ms % 1000 else ""
        return f"{hours}:{minutes:02d}:{rest:02d}{tail}" if hours else f"{minutes}:{rest:02d}{tail}"
    if step_ms >= 1000 or ms % 1000 == 0:
        return f"{ms // 1000} s"
    if ms < 1000 and step_ms < 1000:
        return f"{ms} ms"
    return f"{ms / 1000:.3f}".rstrip("0").rstrip(".") + " s"


def exact(ms: int) -> str:
    """A time to the millisecond: `0.020 s`, `361.500 s`."""
    return f"{ms // 1000}.{ms % 1000:03d} s"


def figure(value: float) -> str:
    """A figure in as many places as one can read off."""
    if value == 0 or abs(value) < 1e-9:
        return "0"
    return rounded(value, 4) if abs(value) < 10_000 else f"{value:.0f}"


def columns(first_ms: int, last_ms: int, count: int) -> Iterator[tuple[int, int]]:
    """The stretch of time of each of `count` columns: from (included) to (excluded; the last one included)."""
    span = max(last_ms - first_ms, 1)
    for place in range(count):
        start = first_ms + span * place // count
        end = first_ms + span * (place + 1) // count
        yield start, end + (1 if place == count - 1 else 0)
