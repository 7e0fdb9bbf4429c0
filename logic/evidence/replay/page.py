"""A run as one HTML file: the chart and the list of events are the frame, rungs and quantities follow.

    replay_page(recording, subtitle)      the text of the file

Nothing is fetched from anywhere, nothing but the page's own script may run, and every text of a
user's is escaped: in HTML by `html.escape`, in the data by leaving no `<` in it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from html import escape
from importlib import resources

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.evidence.chart import chart_svg
from rungproof.logic.evidence.chart.chart_text import mark_words, wait_words
from rungproof.logic.evidence.chart.gather import steady_words
from rungproof.logic.evidence.chart.scale import exact
from rungproof.logic.evidence.chart.strip import Strip, Truth
from rungproof.logic.evidence.drawing_text import CIRCUIT_NOTE
from rungproof.logic.evidence.drawn import ink
from rungproof.logic.evidence.drawn.ink import Power
from rungproof.logic.evidence.drawn.metrics import shortened, text_width, visible
from rungproof.logic.evidence.html_page import html_page
from rungproof.logic.evidence.replay.frames import Recording
from rungproof.logic.evidence.replay.recorder import Shown

CHART_WIDTH, VALUES = 860.0, 110.0


def replay_page(recording: Recording, subtitle: str = "") -> str:
    """The page. `subtitle` stands below the title: where the run comes from."""
    strip = recording.strip
    opening = _opening(recording)
    title = shortened(visible(strip.title), 300)
    body = [
        '<header class="bar">',
        f"<h1>{escape(title)}</h1>",
        f'<p class="verdict">{escape(_verdict(strip))}</p>',
        f'<p class="muted">{escape(IN_THE_MODEL)} A design aid, not a safety-rated tool.</p>',
        "</header>",
        _controls(recording, opening),
        "<main>",
        '<section class="time" id="time" aria-label="Chart of the run" role="region" tabindex="0">',
        chart_svg.svg_chart(strip, width=CHART_WIDTH, values=VALUES, legend=False),
        *(f'<p class="muted">{escape(words)}</p>' for words in steady_words(strip)),
        f"<p>{escape(visible(subtitle))} {escape(_left_out(recording))}</p><p>{escape(CAUTIONS)}</p>",
        "</section>",
        '<section class="told" id="told" aria-label="What happened" role="region" tabindex="0">',
        "<h2>What happened</h2>",
        _events(strip),
        "</section>",
        '<section class="rungs" id="rungs" aria-label="Rungs at this instant" role="region" tabindex="0">',
        "<h2>Rungs at <span data-clock></span></h2>",
        f'<p class="muted">{escape(_KEY)}</p>',
        *_rungs(recording, opening),
        "</section>",
        "</main>",
        f'<script type="application/json" id="run">{_data(recording, opening)}</script>',
    ]
    style = ink.STYLE + chart_svg.STYLE + _resource("page.css")
    return html_page(title, "\n".join(body), style=style, script=_resource("page.js"))


_KEY = (
    "Thick: power. Thin and dashed: none. A contact with thick bars is closed. The small figure below an element is "
    "its line in the file."
)


def _resource(name: str) -> str:
    return resources.files("rungproof.logic.evidence.replay").joinpath(name).read_text(encoding="utf-8")


def _opening(recording: Recording) -> int:
    """The frame that the page opens at: the first violation that counts, else the first frame."""
    at = min((each.at_ms for each in recording.strip.violations if each.counts), default=None)
    if at is None:
        return 0
    return max(n for n, t in enumerate(recording.times) if t <= at)


def _verdict(strip: Strip) -> str:
    said = [
        f"{each.name} is violated at {exact(each.at_ms)}" + (f" ({each.words})" if each.words else "")
        for each in strip.violations
    ]
    return visible("; ".join(said)) if said else "No requirement is violated in this run."


def _left_out(recording: Recording) -> str:
    if recording.all_frames == len(recording.times):
        return f"{len(recording.times):,} frames, one for every scan."
    return (
        f"{len(recording.times):,} of {recording.all_frames:,} frames: all at which a wire changes as far as they fit."
    )


def _controls(recording: Recording, opening: int) -> str:
    buttons = [
        ("first", "First", ""),
        ("event-back", "Event before", ""),
        ("back", "One back", ""),
        ("play", "Play", ' aria-pressed="false"'),
        ("forward", "One forward", ""),
        ("event-forward", "Next event", ""),
        ("last", "Last", ""),
    ]
    row = "".join(f'<button type="button" id="{name}"{more}>{words}</button>' for name, words, more in buttons)
    speeds = [
        ("0.01", "1/100"),
        ("0.1", "1/10"),
        ("1", "as fast as the machine"),
        ("10", "10 times"),
        ("60", "60 times"),
    ]
    options = "".join(f'<option value="{value}">{words}</option>' for value, words in speeds)
    return (
        f'<div class="controls" role="region" aria-label="Time"><div class="row">{row}'
        f'<label>Speed <select id="speed">{options}</select></label>'
        '<span class="now-is" role="status" id="status"><strong data-clock></strong> <span id="scan"></span></span>'
        "</div>"
        f'<label class="whole">Instant <input type="range" id="slider" min="0" max="{len(recording.times) - 1}" '
        f'value="{opening}" step="1"></label></div>'
        '<div class="keys muted" role="region" aria-label="Keys"><p>Keys: left and right, one back and forward; '
        "with Shift, an event; Home, End; space, play and pause. A click into the chart goes to that instant.</p>"
        "<noscript><p>Without scripts this page shows the instant at which it opens.</p></noscript></div>"
    )


def _events(strip: Strip) -> str:
    rows: list[tuple[int, str, str]] = [(mark.at_ms, f"{count}", mark_words(mark)) for count, mark in strip.numbered()]
    rows += [(w.start_ms, "waits", wait_words(w)) for w in strip.waits]
    for each in strip.violations:
        words = f'{each.name} violated: "{shortened(each.sentence, 400)}" {each.restatement}'
        rows.append((each.at_ms, "!" if each.counts else "(!)", words + (f" ({each.words})" if each.words else "")))
    rows.sort(key=lambda row: row[0])
    if not rows:
        return "<p>Nothing: nobody does anything in this run.</p>"
    items = [
        f'<li><button type="button" data-at="{at}"><span class="when">{exact(at)}</span> '
        f'<span class="mark">{escape(visible(sign))}</span> <bdi>{escape(visible(words))}</bdi>'
        '<span class="here" hidden> (here)</span></button></li>'
        for at, sign, words in rows
    ]
    return f"<ol>{''.join(items)}</ol>"


def _rungs(recording: Recording, opening: int) -> list[str]:
    parts = []
    place = 0
    circuits = False
    for number, shown in enumerate(recording.shown):
        if shown.supply is not None and not circuits:
            circuits = True
            parts.append(f'<h3>Hardwired circuits</h3><p class="muted">{escape(CIRCUIT_NOTE)}</p>')
        state = recording.states[opening][place : place + shown.size] if recording.states else bytes(shown.size)
        place += shown.size
        nets = len(shown.drawing.nets.ways)
        conducts = {n: bool(each) for n, each in enumerate(state[nets:]) if n not in _receivers(shown)}
        svg = shown.drawing.svg(Power([bool(each) for each in state[:nets]], conducts))
        parts.append(f'<figure data-rung="{number}">{svg}<figcaption id="says-{number}"></figcaption></figure>')
    return parts


def _receivers(shown: Shown) -> frozenset[int]:
    """Elements that conduct nothing: the outputs."""
    return frozenset(n for n, node in enumerate(shown.drawing.elements) if isinstance(node, tree.Output))


# -------------------------------------------------------------------------- data


def _data(recording: Recording, opening: int) -> str:
    """What the script needs, as JSON without any `<`: no text of a user's can end the element it stands in."""
    strip = recording.strip
    layout = chart_svg.layout_of(strip, CHART_WIDTH, values=VALUES)
    bands: list[dict[str, object]] = []
    for band in strip.bands:
        if isinstance(band, Truth):
            words = [_in_the_column(visible(each)) for each in (band.off, band.on)]
            bands.append({"t": [t for t, _ in band.changes], "v": int(band.changes[0][1]), "w": words})
        else:
            values = [float(f"{value:.5g}") for value in recording.numbers[band.name]]
            bands.append({"n": values, "u": visible(band.unit or "")})
    data = {
        "times": list(recording.times),
        "flips": _flips(recording.states),
        "rungs": [_rung_data(shown) for shown in recording.shown],
        "bands": bands,
        "left": round(layout.left, 2),
        "right": round(layout.right, 2),
        "first": strip.first_ms,
        "span": strip.span_ms,
        "open": opening,
    }
    return json.dumps(data, separators=(",", ":"), ensure_ascii=True, allow_nan=False).replace("<", "\\u003c")


def _in_the_column(word: str) -> str:
    """What stands beside a band at an instant; a long message is cut there, and stands whole below the chart."""
    room = VALUES - 12
    if text_width(word, chart_svg.NAME, "sans") <= room:
        return word
    kept = word
    while kept and text_width(f"{kept} ...", chart_svg.NAME, "sans") > room:
        kept = kept[:-1].rstrip()
    return f"{kept} ..."


def _flips(states: Sequence[bytes]) -> list[list[int]]:
    """For each frame the places of the bytes that differ from the frame before; in the first one, those that are 1."""
    found = []
    before = bytes(len(states[0])) if states else b""
    for state in states:
        same = state == before
        found.append([] if same else [n for n, (a, b) in enumerate(zip(before, state, strict=True)) if a != b])
        before = state
    return found


def _rung_data(shown: Shown) -> dict[str, object]:
    """Sizes, which elements receive, and what to say: the net behind each line, with its line and words."""
    rung, nets = shown.rung, shown.drawing.nets
    count = len(rung.elements)
    lines = [
        [nets.line_ends[n + 1], f"line {each.span.line}: {visible(to_text(each))}"]
        for n, each in enumerate(rung.elements)
    ]
    outputs = [
        [nets.line_ends[count + 1 + n], visible(to_text(each)).removeprefix("=> ")]
        for n, each in enumerate(rung.outputs)
    ]
    return {
        "nets": len(nets.ways),
        "elements": len(shown.drawing.elements),
        "receive": sorted(_receivers(shown)),
        "lines": lines,
        "outputs": outputs,
        "supply": visible(shown.supply or ""),
    }
