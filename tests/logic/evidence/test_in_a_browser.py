"""Pages and pictures in a real browser: they open, play, step, print, ask nobody, and shut nobody out."""

from __future__ import annotations

import base64
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import pytest
from browser import Page, axe_source, browser_pages
from generated_programs import controller_text
from rungproof.grammar import CATALOGUE, Reporter, parse_text, tree
from rungproof.logic.api import draw_svg, understand
from rungproof.logic.evidence.chart import chart_svg
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.chart.scale import exact
from rungproof.logic.evidence.chart.strip import Number, Truth
from rungproof.logic.evidence.drawing_text import comments_of
from rungproof.logic.evidence.drawn import ink
from rungproof.logic.evidence.drawn.metrics import text_width
from rungproof.logic.evidence.drawn.rung_svg import Context, svg_of_rung
from rungproof.logic.evidence.html_page import html_page
from rungproof.logic.evidence.replay.frames import Recording, recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.understand import understand_texts

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

EXAMPLES = Path(__file__).parents[3] / "examples"

HURTING = "</script><script>window.hurt = 1</script><img src=x onerror='window.hurt = 1'>" + "y" * 10_000

#: A violated requirement, every kind of band, a remark that wants to hurt, and a plant with a horn.
TEXT = f"""\
controller "Bell" every 10 ms

tags
    ring_pb  input   bool              "{HURTING}"
    depth    input   int 0..1000
    bell     output  bool  on stop off
    shallow  memory  bool

rung bell "{HURTING}"
    ring_pb or bell
    not shallow
    on-delay 50 ms as hold
    => bell

rung shallow
    depth < 100
    => shallow

plant "Hall" every 5 ms
    reservoir well  holds 500 L, starts at 400 L
    tank hall       upright cylinder, diameter 10 cm, height 50 cm, starts at 2 L
    pump riser      from well into hall, 0..60 L/min, fixed speed
    level_transmitter LT1  above hall at 60 cm, sees 0 cm..60 cm as 0..10 V, on lost echo 10 V, every 10 ms
    push_button S1  make contact
    horn H1
    supply P24      24 V

circuit "Pump" from P24
    rung riser
        bell
        => riser.supply

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P24
    ring_pb  at X1:1  from S1
    depth    at X1:2  0..10 V as 0..1000  from LT1
    bell     at X2:1

requirement R1 "{HURTING}"
    even with any one fault
    never hall.volume > 2.2 L
"""

PRESSES = Story(
    800,
    (
        Event(100, "S1.pressed", True),
        Event(300, "S1.pressed", False),
        Event(400, "LT1!echo_lost", True),
        Event(600, "controller!cut", True),
    ),
)


@pytest.fixture(scope="session")
def page() -> Iterator[Page]:
    yield from browser_pages()


@pytest.fixture(scope="session")
def axe() -> str:
    return axe_source()


@pytest.fixture(scope="module")
def recording() -> Recording:
    understood = understand_texts({"bell.rung": TEXT})
    assert understood.program is not None, understood.diagnoses
    return recording_of(understood.program, PRESSES, "A bell is rung")


@pytest.fixture(scope="module")
def file(recording: Recording, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pages") / "bell.html"
    path.write_text(replay_page(recording, HURTING), encoding="utf-8")
    return path


def until(holds: Callable[[], bool], seconds: float = 60.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.05)
    return False


def shown_states(page: Page, recording: Recording) -> bytes:
    """How every net and element of every rung is drawn now: 1 live or shut, 0 dead or open."""
    classes = page.js(
        "return run_state();"
        "function run_state() { const found = [];"
        "  for (const data of JSON.parse(document.getElementById('run').textContent).rungs.entries()) {"
        "    const figure = document.querySelector(`figure[data-rung='${data[0]}']`);"
        "    for (let n = 0; n < data[1].nets; n += 1) {"
        "      const nodes = [...figure.querySelectorAll(`[data-net='${n}']`)];"
        "      found.push(nodes.map((node) => node.classList.contains('live') ? 1 "
        "        : node.classList.contains('dead') ? 0 : 9)); }"
        "    for (let n = 0; n < data[1].elements; n += 1) {"
        "      const nodes = data[1].receive.includes(n) ? [] : [...figure.querySelectorAll(`[data-element='${n}']`)];"
        "      found.push(nodes.map((node) => node.classList.contains('shut') ? 1 "
        "        : node.classList.contains('open') ? 0 : 9)); } }"
        "  return found; }"
    )
    size = sum(shown.size for shown in recording.shown)
    assert len(classes) == size
    assert all(len(set(each)) <= 1 for each in classes), "parts of one wire differ"
    return bytes(each[0] if each else 0 for each in classes)


# --------------------------------------------------------------------------- replay


def test_the_page_opens_at_the_violation_without_a_complaint_and_asks_nobody(
    page: Page, file: Path, recording: Recording
) -> None:
    """No error in the console, no request but for the file itself, and a hostile remark has done nothing."""
    page.open(file)
    assert page.js("return document.documentElement.dataset.ready") == "yes"
    assert page.js("return window.hurt") is None
    (violation,) = recording.strip.violations
    assert page.clock() == exact(violation.at_ms)
    assert f"R1 is violated at {exact(violation.at_ms)}" in page.text(".verdict")
    page.click("first")
    page.click("play")
    assert until(lambda: page.text("#play") == "Pause" or page.clock() == exact(recording.times[-1]))
    page.click("last")
    assert page.complaints() == []
    assert page.requests() == [file.as_uri()]


def test_wires_contacts_and_values_follow_every_instant(page: Page, file: Path, recording: Recording) -> None:
    """Thirty frames in any order: every wire and contact drawn as it was, every value beside its band."""
    page.open(file)
    random = Random(7)
    last = len(recording.times) - 1
    for frame in [0, last, *random.choices(range(last + 1), k=28)]:
        page.js(
            "const s = document.getElementById('slider'); s.value = arguments[0];"
            "s.dispatchEvent(new Event('input', {bubbles: true}));",
            str(frame),
        )
        at = recording.times[frame]
        assert page.clock() == exact(at)
        shown, place = shown_states(page, recording), 0
        for each in recording.shown:
            nets = len(each.drawing.nets.ways)
            part, drawn = recording.states[frame][place : place + each.size], shown[place : place + each.size]
            used = {wire for item in each.drawing.items for wire in [getattr(item, "net", None)] if wire is not None}
            assert [part[n] for n in used] == [drawn[n] for n in used]
            assert part[nets:] == drawn[nets:]
            place += each.size
        said = page.js("return [...document.querySelectorAll('[data-now]')].map((e) => e.textContent)")
        for band, words in zip(recording.strip.bands, said, strict=True):
            if isinstance(band, Truth):
                value = [v for t, v in band.changes if t <= at][-1]
                assert words == (band.on if value else band.off)
            else:
                assert isinstance(band, Number)
                assert float(words.split()[0]) == pytest.approx(recording.numbers[band.name][frame], rel=1e-4, abs=1e-9)


def test_buttons_step_by_a_scan_and_by_an_event(page: Page, file: Path, recording: Recording) -> None:
    """First, one forward, one back, last; the next event is the first frame at which it is seen."""
    page.open(file)
    times = recording.times
    page.click("first")
    assert page.clock() == exact(times[0])
    for _ in range(3):
        page.click("forward")
    page.click("back")
    assert page.clock() == exact(times[2])
    page.click("event-forward")
    assert page.clock() == exact(100)
    assert "press S1 for 200 ms" in page.text(".told [aria-current]")
    page.click("last")
    assert page.clock() == exact(times[-1])
    page.click("event-back")
    assert page.clock() == exact(600)
    page.click("back")
    assert "Not solved" not in page.text("#says-0")
    page.click("forward")
    assert "the controller does not scan" in page.text("#says-0")


def test_everything_can_be_done_with_the_keyboard_alone(page: Page, file: Path, recording: Recording) -> None:
    """Arrows, Home, End and space; every control is reached with Tab and shows where one is."""
    from selenium.webdriver.common.keys import Keys

    page.open(file)
    times = recording.times
    page.keys(Keys.HOME)
    assert page.clock() == exact(times[0])
    page.keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT, Keys.ARROW_LEFT)
    assert page.clock() == exact(times[1])
    page.keys(Keys.SHIFT, Keys.ARROW_RIGHT, Keys.NULL)
    assert page.clock() == exact(100)
    page.keys(Keys.END)
    assert page.clock() == exact(times[-1])
    reached: list[str] = []
    for _ in range(40):
        page.keys(Keys.TAB)
        name, width, style = page.js(
            "const e = document.activeElement; const s = getComputedStyle(e);"
            "return [e.id || e.dataset.at || e.tagName, parseFloat(s.outlineWidth), s.outlineStyle]"
        )
        if name in ("BODY", "HTML"):
            break
        assert width >= 2 and style != "none", f"{name} does not show that it has the focus"
        reached.append(name)
    wanted = ["first", "event-back", "back", "play", "forward", "event-forward", "last", "speed", "slider"]
    assert reached[: len(wanted)] == wanted
    assert {"time", "told", "rungs"} <= set(reached)
    assert {"100", "400", "600"} <= set(reached)
    page.js("document.activeElement.blur()")
    page.keys(Keys.HOME)
    page.keys(Keys.SPACE)
    assert page.text("#play") == "Pause"
    page.keys(Keys.SPACE)
    assert page.text("#play") == "Play"


def test_playing_runs_to_the_end_and_stops_there(page: Page, file: Path, recording: Recording) -> None:
    """At a chosen speed, and from the beginning again if it had ended."""
    page.open(file)
    page.click("last")
    page.js("document.getElementById('speed').value = '1'")
    # In one go: by the time of a second question a slow machine may have played it to the end.
    began = "document.getElementById('play').click(); return document.querySelector('#status [data-clock]').textContent"
    assert page.js(began) != exact(recording.times[-1])
    assert until(lambda: page.text("#play") == "Play")
    assert page.clock() == exact(recording.times[-1])


def test_whoever_asks_for_less_motion_gets_one_change_a_second(page: Page, file: Path) -> None:
    """With reduced motion asked for, playing jumps from change to change at a calm pace."""
    page.open(file, prefers_reduced_motion="reduce")
    page.click("first")
    start = page.clock()
    clicked = time.monotonic()
    page.click("play")
    time.sleep(0.4)
    early = page.clock()
    # On a machine that is very busy the first second may be over by now.
    assert early == start or time.monotonic() - clicked > 0.9
    assert until(lambda: page.clock() != start)
    page.click("play")
    assert page.text("#play") == "Play"
    page.open(file)


def test_a_click_into_the_chart_or_the_list_goes_there(page: Page, file: Path, recording: Recording) -> None:
    """The chart is the frame: its instants can be pointed at."""
    page.open(file)
    page.js("document.querySelector('[data-at=\"400\"]').click()")
    assert page.clock() == exact(400)
    page.js(
        "const chart = document.querySelector('#time svg'); const run = JSON.parse("
        "document.getElementById('run').textContent); const box = chart.getBoundingClientRect();"
        "const x = run.left + (250 - run.first) / run.span * (run.right - run.left);"
        "const at = {clientX: box.left + (x + 0.4) * box.width / chart.viewBox.baseVal.width, clientY: box.top + 60,"
        " button: 0, buttons: 1, bubbles: true}; chart.dispatchEvent(new PointerEvent('pointerdown', at));"
    )
    assert page.clock() == exact(250)
    assert page.js("return document.querySelector('.now').getAttribute('x1')") is not None


def test_a_replay_of_2000_scans_opens_within_a_second(page: Page, tmp_path: Path) -> None:
    """From the click to a page that follows the keys; the best of three, because the machine has other work."""
    program = understand(EXAMPLES / "header_tank").program
    assert program is not None
    presses = [(0, "drip_lines.opening", 30.0), (1000, "S3.pressed", True), (1200, "S3.pressed", False)]
    story = Story(40_000, tuple(Event(*each) for each in presses))
    recorded = recording_of(program, story, "a reset, and nothing more")
    assert len(recorded.times) >= 2000
    path = tmp_path / "long.html"
    path.write_text(replay_page(recorded), encoding="utf-8")
    taken = []
    for _ in range(3):
        page.open(path)
        assert page.js("return document.documentElement.dataset.ready") == "yes"
        taken.append(page.js("return performance.getEntriesByType('navigation')[0].domComplete"))
    assert min(taken) < 1000, taken


def test_the_page_prints(page: Page, file: Path) -> None:
    """Chart, events and rungs on paper, the controls not."""
    page.open(file)
    made = page.driver.execute_cdp_cmd("Page.printToPDF", {"printBackground": False, "preferCSSPageSize": True})
    pdf = base64.b64decode(made["data"])
    assert pdf.startswith(b"%PDF")
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") + pdf.count(b"/Type/Page/") >= 1
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    hidden, chart = page.js(
        "return [getComputedStyle(document.querySelector('.controls')).display,"
        " document.querySelector('#time svg').getBoundingClientRect().width]"
    )
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert hidden == "none"
    assert chart > 300


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 800, 1500])
def test_no_barrier_is_found_on_the_replay_page(page: Page, file: Path, axe: str, scheme: str, width: int) -> None:
    """axe-core, all rules, at three widths, by day and by night; contrasts are among them (WCAG 2.2 AA)."""
    page.open(file, width=width, prefers_color_scheme=scheme)
    assert page.accessibility_violations(axe) == []


def test_a_page_scrolls_in_one_direction_only(page: Page, file: Path) -> None:
    """At 360 px nothing but the chart and the rungs, in frames of their own, is wider than the window."""
    page.open(file, width=500)
    across = page.js("return [document.documentElement.scrollWidth, window.innerWidth]")
    assert across[0] <= across[1]


# ------------------------------------------------------------------------- drawings


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_folder_of_drawings_opens_and_shuts_nobody_out(page: Page, axe: str, tmp_path: Path, scheme: str) -> None:
    """The page of `draw -o FOLDER`: no complaint, no request, no barrier."""
    for name, text in draw_svg(EXAMPLES / "header_tank").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    page.open(tmp_path / "index.html", prefers_color_scheme=scheme)
    assert page.accessibility_violations(axe) == []
    assert page.complaints() == []
    assert page.requests() == [(tmp_path / "index.html").as_uri()]


def _pictures() -> list[str]:
    """Rungs of thirty generated programs, with texts that ask much of a font, and five charts."""
    pictures = []
    remarks = ("Überlauf, größer als 5 µm", "\N{CYRILLIC CAPITAL LETTER ZHE}" * 30, "WWW MMM @@@ %%%", "水位が高い")
    for seed in range(30):
        text = controller_text(Random(seed))
        blocks = parse_text(text, "generated.rung", Reporter(CATALOGUE)).blocks
        context = Context.of(blocks, comments_of([("generated.rung", text)]))
        for rung in [block for block in blocks if isinstance(block, tree.Rung)]:
            remarked = tree.Rung(rung.span, rung.name, remarks[seed % 4], rung.elements, rung.outputs)
            pictures.append(svg_of_rung(remarked, context))
    for seed in range(5):
        understood = understand_texts({"generated.rung": controller_text(Random(seed))})
        assert understood.program is not None
        strip = strip_of(understood.program, Story(400), "generated")
        pictures.append(chart_svg.svg_chart(strip, width=800))
    return pictures


def test_real_renderings_keep_within_the_metric_table(page: Page, tmp_path: Path) -> None:
    """Measured by the browser: no text is wider than the table says, and none lies over another."""
    pictures = _pictures()
    path = tmp_path / "measure.html"
    path.write_text(html_page("measured", "\n".join(pictures), style=ink.STYLE + chart_svg.STYLE), encoding="utf-8")
    page.open(path)
    measured = page.js(
        "return [...document.querySelectorAll('svg')].map((svg) => [...svg.querySelectorAll('text')].map((t) => {"
        "const b = t.getBBox(); return [t.textContent, parseFloat(t.getAttribute('font-size')),"
        " t.classList.contains('sans') ? 'sans' : 'mono', t.classList.contains('strong'),"
        " b.x, b.y, b.width, b.height, !!t.closest('[data-mark]')]; }));"
    )
    count = 0
    for texts in measured:
        boxes = []
        for said, size, face, strong, x, y, width, height, mark in texts:
            count += 1
            limit = text_width(said, size, face)
            assert width <= limit + 0.51, f"{said!r} ({face}, {size}, strong: {strong}) is {width} wide, not {limit}"
            if said and not mark:
                # A line box is higher than its letters: what counts is the part that they fill.
                boxes.append((x, y + 0.22 * height, x + width, y + 0.86 * height, said))
        for n, one in enumerate(boxes):
            for other in boxes[n + 1 :]:
                across = min(one[2], other[2]) - max(one[0], other[0])
                down = min(one[3], other[3]) - max(one[1], other[1])
                assert across <= 0.5 or down <= 0.5, f"{one[4]!r} lies over {other[4]!r}"
    assert count > 1500
