"""Times, counts and figures as people say them; times exact to the millisecond."""

from __future__ import annotations

from decimal import Decimal

#: Beyond these a figure is written with an exponent: 100,000 L is 100000, and so are counts.
_LEAST, _MOST = 1e-4, 1e15


def time_parts(ms: int) -> tuple[str, str]:
    """The shortest exact way to write a time: `("1.25", "s")`, `("5", "min")`, `("200", "ms")`."""
    if ms >= 60_000 and ms % 60_000 == 0:
        return str(ms // 60_000), "min"
    if ms == 0 or ms >= 1000:
        whole, rest = divmod(ms, 1000)
        return (f"{whole}.{rest:03d}".rstrip("0") if rest else str(whole)), "s"
    return str(ms), "ms"


def time_words(ms: int) -> str:
    """`1.25 s`, `5 min`, `200 ms`, `0 s`."""
    number, unit = time_parts(ms)
    return f"{number} {unit}"


def span_words(ms: int) -> str:
    """A long stretch, rounded for reading: `3 h`, `12 min`, `40 s`. Not for calculating with."""
    for size, unit in ((3_600_000, "h"), (60_000, "min"), (1000, "s")):
        if ms >= 2 * size:
            return f"{rounded(ms / size, 3)} {unit}"
    return f"{ms} ms"


def many(count: int, noun: str) -> str:
    """`1 run`, `12 runs`."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def exactly(value: float) -> str:
    """A value of a file, in the fewest digits that are exact, and without an exponent: `100000`, `0.61`, `12`."""
    shown = f"{value!r}"
    if not _LEAST <= abs(value) < _MOST:
        return shown.removesuffix(".0")
    whole = f"{Decimal(shown):f}"
    return whole.rstrip("0").rstrip(".") if "." in whole else whole


def rounded(value: float, digits: int = 6) -> str:
    """A result in so many digits, and without an exponent: `12` for 12.000000000000002, `240.287`."""
    return exactly(float(f"{value:.{digits}g}"))
