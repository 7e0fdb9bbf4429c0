"""A strip chart in characters: for a terminal, and for those who read without colour or without pictures.

off `.`   on `#`   both within one column `%`   the instant of a violation `!`
numbers: tenths of the band's span, 0 to 9, least and greatest beside the name
"""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.checks.words import time_words
from rungproof.logic.evidence.chart.gather import steady_words
from rungproof.logic.evidence.chart.scale import clock, columns, exact, figure, ticks
from rungproof.logic.evidence.chart.strip import EXPECT, Band, Mark, Number, Strip, Truth, Wait
from rungproof.logic.evidence.drawn.metrics import shortened, visible
from rungproof.logic.evidence.wrapping import wrap

#: What each kind of mark looks like in the row of events.
SIGNS = {"event": ">", "fault": "x", "power": "~", "cut short": "|"}
HEADS = {
    "inputs": "inputs",
    "stages": "timers and counters",
    "memory": "memory",
    "outputs": "outputs",
    "plant": "plant",
    "contacts": "contacts",
}
LEAST, MOST_LABEL = 20, 34


def text_chart(strip: Strip, *, width: int = 100) -> str:
    """The chart in at most `width` columns (40 or more), with the list of marks and waits below it."""
    labels = [_label(band) for band in strip.bands]
    room = min(max([len(label) for label in labels] + [14]), MOST_LABEL, max(width - LEAST - 2, 8))
    plot = max(width - room - 2, LEAST)
    lines = [f"{'':{room}}  {row}" for row in _axis(strip, plot)]
    lines += _mark_rows(strip, room, plot)
    group = ""
    for band, label in zip(strip.bands, labels, strict=True):
        if band.group != group:
            group = band.group
            lines.append(f"-- {HEADS[group]}")
        cells = _cells(band, strip, plot)
        lines.append(f"{_cut(label, room):{room}}  {cells}")
    lines += _wait_rows(strip, room, plot)
    lines += ["", *_words(strip, width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _cut(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 2] + ".."


def _label(band: Band) -> str:
    if isinstance(band, Truth):
        return visible(band.name) + (f" ({band.on})" if band.named else "")
    unit = f" {band.unit}" if band.unit else ""
    return f"{visible(band.name)} {figure(band.low)}..{figure(band.high)}{unit}"


def _axis(strip: Strip, plot: int) -> list[str]:
    """Two rows: the times, and a stroke below each."""
    marks = ticks(strip.first_ms, strip.last_ms, max(plot // 12, 2))
    step = marks[1] - marks[0] if len(marks) > 1 else strip.span_ms
    words, strokes = [" "] * plot, ["-"] * plot
    free = 0
    for at in marks:
        place = _place(strip, at, plot)
        text = clock(at, step)
        strokes[place] = "+"
        start = min(place, plot - len(text))
        if start >= free:
            words[start : start + len(text)] = text
            free = start + len(text) + 1
    return ["".join(words), "".join(strokes)]


def _place(strip: Strip, at_ms: int, plot: int) -> int:
    return min((at_ms - strip.first_ms) * plot // strip.span_ms, plot - 1)


def _cells(band: Band, strip: Strip, plot: int) -> str:
    stretches = list(columns(strip.first_ms, strip.until_ms, plot))
    if isinstance(band, Truth):
        return "".join(_truth_cell(states) for states in _states(band.changes, stretches))
    return "".join(_number_cell(band, values) for values in _states(band.points, stretches))


def _states(changes: Sequence[tuple[int, float]], stretches: Sequence[tuple[int, int]]) -> list[list[float]]:
    """The values that stand in each stretch: the one at its beginning, and those that come in it."""
    rows: list[list[float]] = []
    place = 0
    for start, end in stretches:
        while place + 1 < len(changes) and changes[place + 1][0] <= start:
            place += 1
        values = [changes[place][1]]
        later = place + 1
        while later < len(changes) and changes[later][0] < end:
            values.append(changes[later][1])
            later += 1
        rows.append(values)
    return rows


def _truth_cell(states: Sequence[float]) -> str:
    return "%" if len(set(states)) > 1 else "#" if states[0] else "."


def _number_cell(band: Number, values: Sequence[float]) -> str:
    span = band.high - band.low
    share = (values[-1] - band.low) / span if span else 0.0
    return str(min(int(share * 10), 9))


def _mark_rows(strip: Strip, room: int, plot: int) -> list[str]:
    rows = []
    if strip.marks:
        cells = [" "] * plot
        for mark in strip.marks:
            place = _place(strip, mark.at_ms, plot)
            cells[place] = SIGNS[mark.kind] if cells[place] in (" ", SIGNS[mark.kind]) else "*"
        rows.append(f"{'what happened':{room}.{room}}  {''.join(cells)}")
    for violation in strip.violations:
        if violation.counts:
            cells = [" "] * plot
            place = _place(strip, violation.at_ms, plot)
            cells[place] = "!"
            rows.append(f"{_cut(f'violated {visible(violation.name)}', room):{room}}  {''.join(cells)}")
    return rows


def _wait_rows(strip: Strip, room: int, plot: int) -> list[str]:
    """A bracket for each wait: `[===]`, with `!` where it ended badly and `?` where the run ended first."""
    if not strip.waits:
        return []
    rows = ["-- waiting"]
    for wait in strip.waits:
        cells = [" "] * plot
        start, end = _place(strip, wait.start_ms, plot), _place(strip, wait.end_ms, plot)
        cells[start : end + 1] = "=" * (end - start + 1)
        cells[start] = "["
        cells[end] = {"met": "]", "violated": "!", "not met": "!", "open": "?"}[wait.ended]
        rows.append(f"{_cut(visible(wait.name), room):{room}}  {''.join(cells)}")
    return rows


def _words(strip: Strip, width: int) -> list[str]:
    """What the picture cannot say: each mark, each violation, each wait, and what never changed."""
    rows: list[str] = []
    for mark in strip.marks:
        rows += _hung(f"{exact(mark.at_ms):>11} {SIGNS[mark.kind]} ", mark_words(mark), width)
    for violation in strip.violations:
        sign = "!" if violation.counts else "("
        words = f'{violation.name} violated: "{shortened(violation.sentence)}"'
        words += f" ({violation.words})" if violation.words else ""
        rows += _hung(f"{exact(violation.at_ms):>11} {sign} ", words, width)
    for wait in strip.waits:
        rows += _hung(f"{exact(wait.start_ms):>11} = ", wait_words(wait), width)
    if rows:
        rows.append("")
    for words in steady_words(strip):
        rows += _hung("", words, width)
    return rows


def mark_words(mark: Mark) -> str:
    """A mark in words; its kind is said, not only drawn (a fault's own words begin with it)."""
    return f"power: {mark.words}" if mark.kind == "power" else mark.words


def wait_words(wait: Wait) -> str:
    """A wait in words: what it waited for, until when, and how that ended."""
    how = {"met": "met", "violated": "violated", "not met": "not met", "open": "still open"}[wait.ended]
    when = "" if wait.name == EXPECT else f" at {time_words(wait.end_ms)}"
    return f"{wait.name}: {wait.words}; {how}{when}"


def _hung(head: str, words: str, width: int) -> list[str]:
    first, *rest = wrap(visible(words), max(width - len(head), 20))
    return [head + first, *(" " * len(head) + row for row in rest)]
