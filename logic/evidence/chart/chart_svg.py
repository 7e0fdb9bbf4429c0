"""A strip chart as SVG: time runs to the right, bands of tags as bars, numbers as curves.

    svg_chart(strip)                 the chart as the text of an `<svg>` element
    svg_chart(strip, alone=True)     the same as a file of its own
    layout_of(strip, width)          where everything lies, for a page that follows the chart

Nothing is said by colour alone: on is a bar and off a line, named states bear their words, marks
have shapes and numbers, a violation is a double line with its name. `ink.STYLE` and `STYLE` go
once into the page that holds a chart which is not `alone`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.evidence.chart.chart_text import HEADS, mark_words, wait_words
from rungproof.logic.evidence.chart.gather import steady_words, title_words
from rungproof.logic.evidence.chart.scale import clock, exact, figure, ticks
from rungproof.logic.evidence.chart.strip import Band, Mark, Number, Strip, Truth, Violation, Wait
from rungproof.logic.evidence.drawn import ink
from rungproof.logic.evidence.drawn.ink import number
from rungproof.logic.evidence.drawn.metrics import Face, rows_of, shortened, text_width, visible
from rungproof.logic.evidence.drawn.shapes import Anchor, Text

WIDTH = 1000.0
LABELS, MARGIN, TRUTH, NUMBER, HEAD, LANE = 220.0, 14.0, 22.0, 58.0, 24.0, 20.0
AXIS, NAME, SMALL = 22.0, 12.0, 10.5
#: The same on paper, where a chart has a page at most.
TIGHT_TRUTH, TIGHT_NUMBER, TIGHT_HEAD = 17.0, 42.0, 18.0
#: Lanes of marks at most; beyond them marks that stand close share one sign, and the list below tells them apart.
MOST_LANES = 5
#: Marks whose hair lines are drawn through all bands; more would be a fence.
MOST_HAIRS = 14

STYLE = """\
.rp .on{fill:currentColor;stroke:none}
.rp .state{fill:none;stroke:currentColor;stroke-width:1.6}
.rp .off{stroke:currentColor;stroke-width:1}
.rp .curve{fill:none;stroke:currentColor;stroke-width:1.7;stroke-linejoin:round}
.rp .grid{stroke:currentColor;stroke-width:.4;stroke-dasharray:1 3}
.rp .hair{stroke:currentColor;stroke-width:.7;stroke-dasharray:4 3}
.rp .sign{fill:none;stroke:currentColor;stroke-width:1.6}
.rp .broken{stroke:currentColor;stroke-width:1.8}
.rp .owed{fill:none;stroke:currentColor;stroke-width:1.6}
.rp .frame{fill:none;stroke:currentColor;stroke-width:.8}
"""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where a chart's parts lie, in the chart's units. `bands` are the tops and heights of the bands, in order."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    bands: tuple[tuple[float, float], ...]
    marks_at: float
    waits_at: float
    legend_at: float
    tight: bool = False

    def x(self, strip: Strip, at_ms: float) -> float:
        return self.left + (at_ms - strip.first_ms) / strip.span_ms * (self.right - self.left)


def layout_of(strip: Strip, width: float = WIDTH, *, values: float = 0.0, tight: bool = False) -> Layout:
    """Where everything lies in a chart of `width` (400 or more), with a column for `values` at its right.

    `tight`: bands as low as can be read, for paper.
    """
    width = max(width, 400.0)
    labels = min(LABELS, width * 0.34)
    right = width - MARGIN - 4 - values
    lanes = len(_lanes(strip, right - labels - MARGIN)) + sum(v.counts for v in strip.violations)
    marks_at = MARGIN + AXIS
    y = top = marks_at + lanes * LANE + 4
    places = []
    group = ""
    head, truth, amount = (TIGHT_HEAD, TIGHT_TRUTH, TIGHT_NUMBER) if tight else (HEAD, TRUTH, NUMBER)
    for band in strip.bands:
        if band.group != group:
            group = band.group
            y += head
        height = truth if isinstance(band, Truth) else amount
        places.append((y, height))
        y += height
    waits_at = y + (HEAD if strip.waits else 0.0)
    bottom = waits_at + len(strip.waits) * 2 * LANE
    return Layout(
        *(width, bottom + MARGIN, MARGIN + labels, right, top, bottom),
        *(tuple(places), marks_at, waits_at, bottom + MARGIN, tight),
    )


def svg_chart(
    strip: Strip,
    *,
    width: float = WIDTH,
    legend: bool = True,
    values: float = 0.0,
    alone: bool = False,
    tight: bool = False,
) -> str:
    """The chart as the text of an `<svg>` element. `width` in CSS pixels, 400 or more.

    `legend`: the marks and what never changed stand below the bands in words. `values`: so much
    room is left at the right for what stands at an instant, and a line is there to be moved to it. `tight`:
    bands and legend as low as can be read, so that a chart has room on a page.
    """
    place = layout_of(strip, width, values=values, tight=tight)
    below, height = _legend(strip, place) if legend else ([], place.height)
    body = [
        *_axis(strip, place),
        *_heads(strip, place),
        *(part for band, at in zip(strip.bands, place.bands, strict=True) for part in _band(band, at, strip, place)),
        *_waits(strip, place),
        *_marks(strip, place),
        *_violations(strip, place),
        *below,
        *(_now(strip, place) if values else ()),
    ]
    return ink.document(place.width, height, body, label=_label(strip), alone=alone, style=STYLE if alone else "")


def _label(strip: Strip) -> str:
    """The chart in one breath, for those who do not see it."""
    counting = [f"{v.name} violated at {clock(v.at_ms, 1)}" for v in strip.violations if v.counts]
    said = "; ".join(counting) or "nothing violated"
    return f"Strip chart, {title_words(strip)}, {len(strip.bands)} bands, {len(strip.marks)} events; {said}"


def _text(text: str, x: float, y: float, size: float, *, face: Face = "sans", anchor: Anchor = "start") -> str:
    return ink.text_svg(Text(visible(text), x, y, size, face, anchor, "chart"))


def _line(cls: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{cls}" x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"/>'


def _rect(cls: str, x: float, y: float, width: float, height: float) -> str:
    size = f'width="{number(max(width, 0.6))}" height="{number(height)}"'
    return f'<rect class="{cls}" x="{number(x)}" y="{number(y)}" {size}/>'


# ------------------------------------------------------------------------- axis


def _axis(strip: Strip, place: Layout) -> list[str]:
    times = ticks(strip.first_ms, strip.last_ms, max(int((place.right - place.left) / 80), 2))
    step = times[1] - times[0] if len(times) > 1 else strip.span_ms
    parts = [_line("off", place.left, MARGIN + AXIS - 1, place.right, MARGIN + AXIS - 1)]
    free = 0.0
    for at in times:
        x = place.x(strip, at)
        parts.append(_line("grid", x, MARGIN + AXIS, x, place.bottom))
        parts.append(_line("off", x, MARGIN + AXIS - 6, x, MARGIN + AXIS - 1))
        words = clock(at, step)
        half = text_width(words, SMALL, "sans") / 2
        middle = min(max(x, place.left + half), place.right - half)
        if middle - half >= free:
            parts.append(_text(words, middle, MARGIN + AXIS - 9, SMALL, anchor="middle"))
            free = middle + half + 6
    return parts


def _heads(strip: Strip, place: Layout) -> list[str]:
    parts = []
    group = ""
    for band, (y, _) in zip(strip.bands, place.bands, strict=True):
        if band.group != group:
            group = band.group
            parts.append(_text(HEADS[group], MARGIN, y - 7, SMALL))
            parts.append(_line("rule", MARGIN, y - 2, place.right, y - 2))
    if strip.waits:
        parts.append(_text("waiting", MARGIN, place.waits_at - 7, SMALL))
        parts.append(_line("rule", MARGIN, place.waits_at - 2, place.right, place.waits_at - 2))
    return parts


# ------------------------------------------------------------------------ bands


def _band(band: Band, at: tuple[float, float], strip: Strip, place: Layout) -> list[str]:
    y, height = at
    room = place.left - MARGIN - 10
    name = rows_of(visible(band.name), room, NAME, "mono")[0]
    if isinstance(band, Truth):
        parts = [_text(name, place.left - 10, y + height / 2 + 4, NAME, face="mono", anchor="end")]
        parts += _bars(band, y, height, strip, place)
    else:
        unit = f" {band.unit}" if band.unit else ""
        first, second = (12, 23) if place.tight else (16, 32)
        parts = [_text(name, place.left - 10, y + first, NAME, face="mono", anchor="end")]
        parts.append(_text(f"{figure(band.high)}{unit}", place.left - 10, y + second, SMALL, face="sans", anchor="end"))
        parts.append(
            _text(f"{figure(band.low)}{unit}", place.left - 10, y + height - 8, SMALL, face="sans", anchor="end")
        )
        parts += _curve(band, y, height, strip, place)
    return [f"<g data-band={quoteattr(visible(band.name))}>{''.join(parts)}</g>"]


def _bars(band: Truth, y: float, height: float, strip: Strip, place: Layout) -> list[str]:
    """On is a bar, off a line. Named states are boxes with their word, where it fits."""
    middle = y + height / 2
    top, thick = middle - 5, 10.0
    bars, lines, words = [], [], []
    ends = [at for at, _ in band.changes[1:]] + [strip.until_ms]
    for (start, value), end in zip(band.changes, ends, strict=True):
        a, b = place.x(strip, start), place.x(strip, end)
        word = band.on if value else band.off
        fits = band.named and text_width(word, SMALL, "sans") + 8 <= b - a
        if fits:
            words.append(_text(word, a + 4, middle + 3.8, SMALL))
        if not value:
            start_x = a + 8 + text_width(word, SMALL, "sans") if fits else a
            lines.append(f"M{number(start_x)} {number(middle)}H{number(b)}")
        elif band.named:
            words.append(_rect("state", a, top - 1, b - a, thick + 2))
        else:
            width = max(b - a, 0.6)
            bars.append(f"M{number(a)} {number(top)}h{number(width)}v{number(thick)}h-{number(width)}z")
    parts = [f'<path class="off" d="{"".join(lines)}"/>'] if lines else []
    parts += [f'<path class="on" d="{"".join(bars)}"/>'] if bars else []
    return parts + words


def _curve(band: Number, y: float, height: float, strip: Strip, place: Layout) -> list[str]:
    top, bottom = y + 8, y + height - 8
    span = band.high - band.low or 1.0
    points = [*band.points]
    if points[0][0] > strip.first_ms:
        points.insert(0, (strip.first_ms, points[0][1]))
    points.append((strip.until_ms, points[-1][1]))
    words = []
    for n, (at, value) in enumerate(points):
        x = number(place.x(strip, at))
        level = number(bottom - (value - band.low) / span * (bottom - top))
        words.append(f"M{x} {level}" if n == 0 else f"H{x}V{level}" if band.stepped else f"L{x} {level}")
    return [
        _line("grid", place.left, top, place.right, top),
        _line("grid", place.left, bottom, place.right, bottom),
        f'<path class="curve" d="{"".join(words)}"/>',
    ]


# -------------------------------------------------------------- marks and waits


@dataclass(slots=True)
class _Cluster:
    """Marks that share a sign, in order of time: one, unless there is no room for each."""

    x: float
    marks: list[tuple[int, Mark]]

    @property
    def label(self) -> str:
        """`7`, or `7-9`."""
        first, last = self.marks[0][0], self.marks[-1][0]
        return f"{first}" if first == last else f"{first}-{last}"

    @property
    def end(self) -> float:
        return self.x + 9 + text_width(self.label, SMALL, "sans")


def _lanes(strip: Strip, room: float) -> list[list[_Cluster]]:
    """Marks shared out into lanes, so that the signs in one do not touch.

    Where every lane is taken, a mark joins the one before it: the numbers of a sign follow each other.
    """
    lanes: list[list[_Cluster]] = []
    latest: _Cluster | None = None
    for count, mark in strip.numbered():
        x = (mark.at_ms - strip.first_ms) / strip.span_ms * room
        lane = next((each for each in lanes if x - 6 >= each[-1].end), None)
        if lane is None and len(lanes) < MOST_LANES:
            lane = []
            lanes.append(lane)
        if lane is not None:
            latest = _Cluster(x, [(count, mark)])
            lane.append(latest)
        elif latest is not None:
            latest.marks.append((count, mark))
    return lanes


def _marks(strip: Strip, place: Layout) -> list[str]:
    parts = []
    lanes = _lanes(strip, place.right - place.left)
    offset = sum(v.counts for v in strip.violations)
    for n, lane in enumerate(lanes):
        y = place.marks_at + (offset + n) * LANE + LANE / 2
        parts += [_cluster(each, y, strip, place) for each in lane]
    return parts


def _cluster(cluster: _Cluster, y: float, strip: Strip, place: Layout) -> str:
    first = cluster.marks[0][1]
    x = place.x(strip, first.at_ms)
    low = place.waits_at if len(strip.marks) <= MOST_HAIRS else place.top
    told = "\n".join(visible(f"{clock(mark.at_ms, 1)}: {mark_words(mark)}") for _, mark in cluster.marks)
    hairs = "".join(_line("hair", at, y + 6, at, low) for at in (place.x(strip, m.at_ms) for _, m in cluster.marks))
    return (
        f'<g data-mark="{cluster.label}"><title>{escape(told)}</title>{hairs}'
        f"{_sign(first, x, y)}{_text(cluster.label, x + 6, y + 4, SMALL)}</g>"
    )


def _sign(mark: Mark, x: float, y: float) -> str:
    """A triangle for what people and the world do, a cross for a fault, a wave for power, a bar for the end."""
    a, b, top, low = number(x - 4.5), number(x + 4.5), number(y - 4), number(y + 4)
    paths = {
        "event": f"M{a} {top}H{b}L{number(x)} {number(y + 5)}z",
        "fault": f"M{a} {top}L{b} {low}M{b} {top}L{a} {low}",
        "power": f"M{a} {number(y)}q2.25 -7 4.5 0t4.5 0",
        "cut short": f"M{number(x)} {top}V{low}M{number(x + 2.5)} {top}V{low}",
    }
    return f'<path class="sign" d="{paths[mark.kind]}"/>'


def _violations(strip: Strip, place: Layout) -> list[str]:
    """A double line through all bands, with the requirement's name at its head."""
    parts = []
    counting: Sequence[Violation] = [each for each in strip.violations if each.counts]
    for n, each in enumerate(counting):
        x = place.x(strip, each.at_ms)
        y = place.marks_at + n * LANE + LANE / 2
        words = visible(f"{each.name} violated at {clock(each.at_ms, 1)}")
        left = x + 8 + text_width(words, NAME, "sans") > place.right
        parts.append(
            f"<g data-violation={quoteattr(visible(each.name))}>"
            f"{_line('broken', x - 1.8, y - 6, x - 1.8, place.bottom)}"
            f"{_line('broken', x + 1.8, y - 6, x + 1.8, place.bottom)}"
            f"{_text(words, x - 8 if left else x + 8, y + 4, NAME, anchor='end' if left else 'start')}</g>"
        )
    return parts


def _waits(strip: Strip, place: Layout) -> list[str]:
    parts = []
    for n, wait in enumerate(strip.waits):
        y = place.waits_at + n * 2 * LANE
        parts.append(_wait(wait, y, strip, place))
    return parts


def _wait(wait: Wait, y: float, strip: Strip, place: Layout) -> str:
    """A bracket over the stretch, its end as it ended, and the words below it."""
    a, b = place.x(strip, wait.start_ms), max(place.x(strip, wait.end_ms), place.x(strip, wait.start_ms) + 2)
    middle = y + 9
    end = {"met": f"M{number(b)} {number(y + 4)}V{number(y + 14)}", "open": ""}.get(
        wait.ended, f"M{number(b - 4)} {number(y + 5)}l8 8m0 -8l-8 8"
    )
    d = f"M{number(a)} {number(y + 4)}V{number(y + 14)}M{number(a)} {number(middle)}H{number(b)}{end}"
    words = wait_words(wait).removeprefix(f"{wait.name}: ")
    room = place.right - place.left
    row = rows_of(visible(words), room, SMALL, "sans")[0]
    shown = row if row == visible(words) else rows_of(visible(words), room - 20, SMALL, "sans")[0] + " ..."
    width = text_width(shown, SMALL, "sans")
    # The words keep clear of the double line at which a wait ends badly.
    end_x = b - 8 if wait.ended in ("violated", "not met") else place.right
    start = max(min(a, end_x - width), MARGIN)
    name = rows_of(visible(wait.name), place.left - MARGIN - 10, NAME, "mono")[0]
    return (
        f"<g><title>{escape(visible(wait_words(wait)))}</title>"
        f'{_text(name, place.left - 10, middle + 4, NAME, face="mono", anchor="end")}<path class="owed" d="{d}"/>'
        f"{_text(shown, start, y + 27, SMALL)}</g>"
    )


def _now(strip: Strip, place: Layout) -> list[str]:
    """The line of the instant that is looked at, and a place for the value of each band at it."""
    x = number(place.left)
    y1, y2 = number(MARGIN + AXIS - 1), number(place.waits_at)
    parts = [f'<line class="now" x1="{x}" y1="{y1}" x2="{x}" y2="{y2}"/>']
    for count, (y, height) in enumerate(place.bands):
        base = y + height / 2 + 4
        parts.append(
            f'<text class="sans" data-now="{count}" x="{number(place.right + 8)}" y="{number(base)}" '
            f'font-size="{number(NAME)}"></text>'
        )
    return parts


# ----------------------------------------------------------------------- legend


def _legend(strip: Strip, place: Layout) -> tuple[list[str], float]:
    """The marks by their numbers, the violated requirements, and what never changed; and the height below."""
    rows = [(f"{count}", f"{exact(mark.at_ms)}  {mark_words(mark)}") for count, mark in strip.numbered()]
    for each in strip.violations:
        words = f'{exact(each.at_ms)}  violated: "{shortened(each.sentence)}"'
        rows.append((each.name, words + (f" ({each.words})" if each.words else "")))
    steady = ["; ".join(steady_words(strip))] if place.tight else steady_words(strip)
    rows += [("", words) for words in (*steady, IN_THE_MODEL) if words]
    parts = []
    y = place.legend_at + 4
    room = place.right - place.left
    for head, words in rows:
        if head:
            name = rows_of(visible(head), place.left - MARGIN - 10, SMALL, "mono")[0]
            parts.append(_text(name, place.left - 10, y + SMALL, SMALL, face="mono", anchor="end"))
        for row in rows_of(visible(words), room, SMALL, "sans"):
            parts.append(_text(row, place.left, y + SMALL, SMALL))
            y += SMALL * 1.35
        y += 3
    return parts, y + MARGIN
