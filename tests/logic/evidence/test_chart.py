"""Strip charts: what stands in them is what ran, and nothing is said by colour alone."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from random import Random
from xml.etree import ElementTree

import pytest
from chart_sample import TAGS, program_of, requirement, story
from generated_plants import plant_text
from generated_programs import controller_text, story_for
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.evidence.chart.chart_svg import layout_of, svg_chart
from rungproof.logic.evidence.chart.chart_text import text_chart
from rungproof.logic.evidence.chart.gather import steady_words, strip_of
from rungproof.logic.evidence.chart.scale import clock, columns, ticks
from rungproof.logic.evidence.chart.strip import Number, Strip, Truth, Wait
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts
from svg_reading import NS, Area, text_area

# ---------------------------------------------------------------------------- bands


def _generated(seed: int) -> tuple[Program, Story, Strip]:
    random = Random(seed)
    program = program_of(plant_text(random) if seed % 2 else controller_text(random))
    told = story_for(random, program, 900)
    return program, told, strip_of(program, told, "generated")


@pytest.mark.parametrize("seed", range(8))
def test_bands_are_what_the_reference_engine_saw(seed: int) -> None:
    """Every truth at every instant, every number's least and greatest value."""
    program, told, strip = _generated(seed)
    trace = reference_engine().run(program, told, watch=frozenset(), record=True).trace
    assert trace is not None
    columns_by_name = {**trace.tags, **trace.plant}
    assert strip.bands or strip.steady
    for band in (*strip.bands, *strip.steady):
        column = columns_by_name[band.name]
        if isinstance(band, Truth):
            changes = dict(band.changes)
            value = band.changes[0][1]
            for t, seen in zip(trace.times, column, strict=True):
                value = changes.get(t, value)
                assert value == seen, (band.name, t)
        else:
            assert (band.low, band.high) == (min(map(float, column)), max(map(float, column)))
            at = dict(zip(trace.times, map(float, column), strict=True))
            assert all(at[t] == value for t, value in band.points)


@pytest.mark.parametrize("seed", range(8))
def test_bars_of_the_picture_lie_where_the_tags_are_on(seed: int) -> None:
    """Read back from the SVG: the bars and boxes of every truth, as times; on paper, too."""
    _, _, strip = _generated(seed)
    tight = seed % 2 == 1
    root = ElementTree.fromstring(svg_chart(strip, tight=tight))
    place = layout_of(strip, tight=tight)
    by_name = {g.attrib["data-band"]: g for g in root.iter(f"{NS}g") if "data-band" in g.attrib}
    assert list(by_name) == [band.name for band in strip.bands]
    for band in strip.bands:
        if not isinstance(band, Truth):
            continue
        g = by_name[band.name]
        bars = [path.attrib["d"] for path in g.iter(f"{NS}path") if path.attrib["class"] == "on"]
        found = [(float(x), float(w)) for d in bars for x, w in re.findall(r"M([0-9.]+) [0-9.]+h([0-9.]+)", d)]
        found += [(float(r.attrib["x"]), float(r.attrib["width"])) for r in g.iter(f"{NS}rect")]
        ends = [t for t, _ in band.changes[1:]] + [strip.until_ms]
        expected = [
            (place.x(strip, t), place.x(strip, end)) for (t, on), end in zip(band.changes, ends, strict=True) if on
        ]
        assert len(found) == len(expected)
        for (x, width), (a, b) in zip(sorted(found), expected, strict=True):
            assert abs(x - a) < 0.06
            assert abs(x + width - max(b, a + 0.6)) < 0.12


def test_a_tight_chart_says_the_same_on_less_paper() -> None:
    """The same bands, marks and words, a quarter lower at least where there are numbers and many steady things."""
    _, _, strip = _generated(3)
    wide, tight = (ElementTree.fromstring(svg_chart(strip, tight=each)) for each in (False, True))
    bands = [[g.attrib["data-band"] for g in root.iter(f"{NS}g") if "data-band" in g.attrib] for root in (wide, tight)]
    assert bands[0] == bands[1]
    assert float(tight.attrib["height"]) < 0.85 * float(wide.attrib["height"])


@pytest.mark.parametrize("tight", [False, True])
@pytest.mark.parametrize("width", [420.0, 700.0, 1000.0])
@pytest.mark.parametrize("seed", range(6))
def test_no_text_of_a_chart_lies_over_another_or_leaves_the_paper(seed: int, width: float, tight: bool) -> None:
    """Labels, words of states, numbers of marks, times, waits: each has its place, also where bands are low."""
    _, _, strip = _generated(seed)
    root = ElementTree.fromstring(svg_chart(strip, width=width, tight=tight))
    _, _, paper_width, paper_height = map(float, root.attrib["viewBox"].split())
    paper = Area(0, 0, paper_width, paper_height, "paper")
    areas = [text_area(text) for text in root.iter(f"{NS}text")]
    # Of very many marks at one place the numbers pile up; the list tells them apart.
    crowded = len(strip.marks) > 24
    marks = {id(t) for g in root.iter(f"{NS}g") if "data-mark" in g.attrib for t in g.iter(f"{NS}text")}
    still = [text_area(text) for text in root.iter(f"{NS}text") if not crowded or id(text) not in marks]
    assert [area.of for area in areas if not paper.holds(area)] == []
    assert [(one.of, other.of) for one, other in combinations(still, 2) if one.overlaps(other)] == []


def test_a_curve_keeps_its_peaks_however_long_the_run() -> None:
    """Thinning drops nothing that a picture could show: a peak of one scan in a minute is still there."""
    text = 'controller "Long" every 10 ms\n\ntags\n    level  input  int 0..100000\n    seen  memory  int 0..100000\n\n'
    program = program_of(text + "rung copy\n    => seen := level\n")
    events = [Event(10 * n, "level", n % 97) for n in range(6000)]
    events[3000] = Event(30_000, "level", 99_999)
    strip = strip_of(program, Story(60_000, tuple(events)), "long")
    (band,) = [b for b in strip.bands if b.name == "seen"]
    assert isinstance(band, Number)
    assert len(band.points) <= 1500
    assert max(value for _, value in band.points) == 99_999


# ------------------------------------------------------------------- marks and words

PLANT = """\
controller "Bell" every 10 ms

tags
    ring_pb  input   bool
    bell     output  bool  on stop off
    lamp     output  bool  on stop off

rung bell
    ring_pb
    => bell
    => lamp

plant "Hall" every 10 ms
    push_button S1  make contact
    horn H1
    lamp P1
    supply P24      24 V

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P24
    ring_pb  at X1:1  from S1
    bell     at X2:1  to H1
    lamp     at X2:2  to P1

requirement R1 "It never rings"
    never H1.sounding
"""


def _bell() -> Strip:
    told = Story(
        400,
        (
            Event(100, "S1.pressed", True),
            Event(200, "S1.pressed", False),
            Event(150, "P1!burnt_out", True),
            Event(300, "controller!cut", True),
        ),
    )
    told = Story(400, tuple(sorted(told.events, key=lambda e: e.at_ms)))
    return strip_of(program_of(PLANT), told, "A bell")


def test_lamps_and_horns_are_named_states() -> None:
    """`lit` and `dark`, `sounding` and `silent`: words, no picture of a lamp."""
    bands = {b.name: b for b in _bell().bands}
    horn, lamp = bands["H1.sounding"], bands["P1.lit"]
    assert isinstance(horn, Truth) and isinstance(lamp, Truth)
    assert (horn.off, horn.on, lamp.off, lamp.on) == ("silent", "sounding", "dark", "lit")
    svg = svg_chart(_bell())
    said = {"".join(t.itertext()) for t in ElementTree.fromstring(svg).iter(f"{NS}text")}
    assert {"silent", "sounding", "dark"} <= said
    assert "H1.sounding (sounding)" in text_chart(_bell())


def test_events_faults_and_power_have_signs_of_their_own_and_words() -> None:
    """A triangle, a cross, a wave in the picture; `>`, `x`, `~` in the text; each in words below."""
    strip = _bell()
    assert [(m.at_ms, m.kind, m.words) for m in strip.marks] == [
        (100, "event", "press S1 for 100 ms"),
        (150, "fault", "fault P1 burnt_out"),
        (300, "power", "cut controller"),
    ]
    text = text_chart(strip, width=80)
    assert "0.100 s > press S1 for 100 ms" in text
    assert "0.150 s x fault P1 burnt_out" in text
    assert "0.300 s ~ power: cut controller" in text
    root = ElementTree.fromstring(svg_chart(strip))
    signs = [path.attrib["d"] for path in root.iter(f"{NS}path") if path.attrib["class"] == "sign"]
    assert len({re.sub(r"-?[0-9.]+", "", d) for d in signs}) == 3


def test_the_instant_of_violation_is_marked_by_name() -> None:
    """In the picture a double line with the name, in the text an exclamation mark; what does not count is said."""
    strip = strip_of(program_of(PLANT), Story(300, (Event(100, "S1.pressed", True),)), "It rings")
    (violation,) = strip.violations
    assert (violation.name, violation.at_ms, violation.counts) == ("R1", 130, True)
    text = text_chart(strip, width=80)
    assert f'{"0.130 s":>11} ! R1 violated: "It never rings"' in text
    assert next(line for line in text.splitlines() if line.startswith("violated R1")).strip().endswith("!")
    assert 'data-violation="R1"' in svg_chart(strip)
    (apart,) = _bell().violations
    assert not apart.counts
    assert "a fault stands in this scenario" in text_chart(_bell())
    assert "data-violation" not in svg_chart(_bell())


def test_the_text_chart_shows_states_without_colour() -> None:
    """Dots, crosses and digits; both states within one column have a sign of their own."""
    strip = strip_of(requirement("never c"), story(100, (30, "a", True), (60, "a", False)), "told")
    rows = {line.split()[0]: line.split()[-1] for line in text_chart(strip, width=60).splitlines() if " " in line}
    assert set(rows["a"]) <= {".", "#", "%"}
    assert re.fullmatch(r"\.+%?#+%?\.+", rows["a"])
    assert "\x1b" not in text_chart(strip, width=60)
    assert max(map(len, text_chart(strip, width=60).splitlines())) <= 60


def test_expectations_show_as_waits() -> None:
    """A scenario's `expect` is a stretch in which something is waited for."""
    program = program_of(TAGS + '\nscenario "S"\n    at 20 ms   press a\n    expect x within 50 ms\n')
    scenario = program.scenarios[0]
    strip = strip_of(program, scenario.story, scenario.name, expectations=scenario.expectations)
    (wait,) = strip.waits
    assert isinstance(wait, Wait)
    assert (wait.name, wait.start_ms, wait.end_ms, wait.ended) == ("expect", 20, 70, "met")


def test_only_the_named_bands_are_shown() -> None:
    """`only` chooses, insides of stages too; a wrong name is told."""
    program = requirement("never c")
    strip = strip_of(program, story(60, (10, "a", True)), "told", only=frozenset({"x"}))
    assert [band.name for band in (*strip.bands, *strip.steady)] == ["x"]
    with pytest.raises(KeyError, match="nobody"):
        strip_of(program, story(60), "told", only=frozenset({"nobody"}))


@pytest.mark.parametrize("title", ["<script>", "\N{HEBREW LETTER ALEF}" * 30, "y" * 10_000])
def test_hostile_sentences_stay_text_in_a_chart(title: str) -> None:
    """A requirement's sentence may hold anything; the chart stays one, of the same width."""
    program = program_of(TAGS + f'\nrequirement R1 "{title}"\n    never a\n')
    strip = strip_of(program, story(60, (10, "a", True)), title)
    svg = svg_chart(strip, alone=True)
    root = ElementTree.fromstring(svg)
    assert float(root.attrib["width"]) == 1000
    assert not [element for element in root.iter() if element.tag.endswith("script")]


@pytest.mark.parametrize("span", [1, 7, 99, 1_000, 61_000, 3_600_000, 86_400_000, 10**10])
def test_times_of_an_axis_are_round_and_few(span: int) -> None:
    """At most as many as asked, rising, within the span."""
    times = ticks(0, span, 10)
    assert 1 <= len(times) <= 10
    assert times == sorted(set(times)) and times[-1] <= span
    steps = {b - a for a, b in pairwise(times)}
    assert len(steps) <= 1


def test_clocks_read_as_people_write_times() -> None:
    """Milliseconds, seconds, minutes and hours, each as fine as the axis asks for."""
    said = [clock(at, step) for at, step in ((250, 50), (1500, 500), (20_000, 1000), (150_000, 30_000), (3_725_000, 1))]
    assert said == ["250 ms", "1.5 s", "20 s", "2:30", "1:02:05"]


def test_columns_share_out_the_time_whole() -> None:
    """Every millisecond belongs to exactly one column."""
    stretches = list(columns(0, 1000, 7))
    assert stretches[0][0] == 0 and stretches[-1][1] == 1001
    assert all(a[1] == b[0] for a, b in pairwise(stretches))


PANEL = """\
controller "Pump" every 10 ms

tags
    failed_in  input   bool
    failed     output  bool

rung failed
    failed_in
    => failed

plant "Pump house" every 10 ms
    push_button S1   make contact
    text_panel D1    messages "The pump has failed" "All is well"

wiring
    failed_in  at X1:1   from S1
    failed     at X2:1   to D1.message_1

scenario "It fails"
    at 100 ms   press S1 for 200 ms
    ends        at 500 ms
"""


def test_a_panel_shows_its_messages_in_their_words() -> None:
    """The band of a message bears its text, in the picture and in the account; what is never shown says so."""
    program = understand_texts({"pump.rung": PANEL}).program
    assert program is not None
    strip = strip_of(program, program.scenarios[0].story, "It fails")
    band = next(each for each in strip.bands if each.name == "D1.shows_1")
    assert isinstance(band, Truth)
    assert (band.off, band.on) == ("not shown", "The pump has failed")
    assert "The pump has failed" in svg_chart(strip)
    told = steady_words(strip)
    assert told[0] == 'D1.shows_1 is "The pump has failed"'
    assert "not shown throughout: D1.shows_2" in told
