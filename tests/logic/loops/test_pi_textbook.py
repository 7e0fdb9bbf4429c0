"""The `pi` function against textbook figures: ideal form, closed loop on an integrator, limits, bumpless start.

u = Kc (e + integral of e / Ti). PI on a pure integrator k'/s: damping = sqrt(k' Kc Ti)/2, frequency sqrt(k' Kc/Ti).
"""

from __future__ import annotations

from itertools import pairwise

import control
import numpy as np
import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Trace
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.understand import understand_texts

OPEN = """controller "Open" every 10 ms

tags
    on_it  input   bool
    m      input   real -100..100
    track  input   real -100..100
    u      output  real -10..10

rung u
    on_it
    => u := pi(m, 0, gain = 2, integral = 10 s, direction = reverse{more})
"""

CLOSED = """controller "Closed" every 1 ms

tags
    x  memory  real -10..10
    u  output  real -10..10

rung u
    => u := pi(x, 1, gain = {gain}, integral = {integral} s, direction = reverse)

rung x "An integrator, a millisecond at a time"
    => x := x + 0.001 * u
"""


def course(text: str, duration_ms: int, *events: tuple[int, str, object]) -> Trace:
    program = understand_texts({"pi.rung": text}).program
    assert program is not None
    story = Story(duration_ms, tuple(Event(at, key, value) for at, key, value in events))  # type: ignore[arg-type]
    trace = CompiledEngine().run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None
    return trace


def test_the_ideal_form() -> None:
    """Kc = 2, Ti = 10 s, e = 1: 2 at once, 4 after 10 s, 6 after 20 s (textbook)."""
    trace = course(OPEN.format(more=""), 20_010, (0, "on_it", True), (0, "m", -1.0))
    u = dict(zip(trace.times, trace.tags["u"], strict=True))
    assert [u[10], u[10_010], u[20_010]] == pytest.approx([2, 4, 6], rel=1e-9)


@pytest.mark.parametrize(
    ("gain", "integral", "damping", "peak", "at_s"),
    [(1, 1, 0.5, 1.298436, 2.4184), (1, 2, 0.7071, 1.207880, 3.1416), (1, 4, 1.0, 1.135335, 4.0)],
)
def test_closed_loop_on_an_integrator(gain: int, integral: int, damping: float, peak: float, at_s: float) -> None:
    """Peak and time of peak of the step on the error, for damping 0.5, 0.7071 and 1; the whole course is that of the
    library `control`."""
    trace = course(CLOSED.format(gain=gain, integral=integral), 15_000)
    x = [float(value) for value in trace.tags["x"]]
    assert max(x) == pytest.approx(peak, abs=1e-3)
    assert trace.times[x.index(max(x))] / 1000 == pytest.approx(at_s, abs=0.01)
    assert damping == pytest.approx(0.5 * np.sqrt(gain * integral), abs=1e-4)
    loop = control.tf([gain, gain / integral], [1, gain, gain / integral])
    expected = control.step_response(loop, np.linspace(0, 15, 15_001)).outputs
    assert x == pytest.approx(list(expected[: len(x)]), abs=2e-3)


def test_no_wind_up() -> None:
    """An hour against its limit, and then the error turns: the output leaves the limit in the very next scan."""
    trace = course(OPEN.format(more=""), 3_600_100, (0, "on_it", True), (0, "m", -50.0), (3_600_000, "m", 1.0))
    u = dict(zip(trace.times, trace.tags["u"], strict=True))
    assert u[3_600_000] == 10
    assert u[3_600_010] < 10


@pytest.mark.parametrize("hand", [-7.5, 0.0, 4.25])
def test_bumpless_start_tracks_what_was_set_by_hand(hand: float) -> None:
    """`starts from` a value by hand: the first output is that value whatever the error, and no scan jumps after it."""
    text = OPEN.format(more=", starts from = track")
    trace = course(text, 3000, (0, "track", hand), (0, "m", -2.0), (1000, "on_it", True))
    u = dict(zip(trace.times, trace.tags["u"], strict=True))
    assert u[1010] == pytest.approx(hand)
    after = [u[t] for t in range(1010, 3000, 10)]
    assert max(abs(b - a) for a, b in pairwise(after)) <= 2 * 2.0 * 0.01 / 10 + 1e-12
    assert after[-1] > hand


def test_an_interrupted_loop_begins_anew() -> None:
    """Powered again, it forgets what it had summed: the first output is the proportional part."""
    trace = course(
        OPEN.format(more=""), 6000, (0, "on_it", True), (0, "m", -1.0), (4000, "on_it", False), (5000, "on_it", True)
    )
    u = dict(zip(trace.times, trace.tags["u"], strict=True))
    assert u[4000] == pytest.approx(2 + 2 * 3.99 / 10)
    assert u[5010] == pytest.approx(2)
