"""The `pi` function behind a dead time, tuned by a published rule: as stable as published, and no more.

Rule (SIMC): Skogestad, Journal of Process Control 13 (2003), 291 to 309. Integrating k'/s: Kc = 1/(k'(tc + theta)),
Ti = 4(tc + theta). First order k/(T s + 1): Kc = T/(k(tc + theta)), Ti = min(T, 4(tc + theta)). With tc = theta
(figures worked out from the rule): gain margin 2.96 and 3.14, delay margin 1.59 theta and 2.14 theta.
"""

from __future__ import annotations

from math import pi as half_turn

import numpy as np
import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.meaning.program import Story
from rungproof.logic.meaning.understand import understand_texts

SCAN_S, THETA_S, LAG_S = 0.02, 2.0, 8.0

#: Kc and Ti (s) of the rule for k' = 1 and for k = 1, T = 8 s, and what x gains in a scan from what arrives.
INTEGRATING = (1 / (THETA_S + THETA_S), 4 * (THETA_S + THETA_S), f"{SCAN_S} * d0")
FIRST_ORDER = (LAG_S / (THETA_S + THETA_S), min(LAG_S, 4 * (THETA_S + THETA_S)), f"{SCAN_S / LAG_S} * (d0 - x)")


def project(gain: float, integral_s: float, gained: str, dead_s: float) -> str:
    """A loop on itself: `u` goes through a row of memories, one a scan; the output holds for a scan, which is half a
    scan of delay, and the process is worked out a scan after its input."""
    cells = round(dead_s / SCAN_S) - 2
    tags = "\n".join(f"    d{k}  memory  real -1000..1000" for k in range(cells))
    row = "\n".join(f"    => d{k} := d{k + 1}" for k in range(cells - 1))
    return f"""controller "Loop" every {round(SCAN_S * 1000)} ms

tags
    x  memory  real -1000..1000
    u  memory  real -1000..1000
{tags}

rung x "The process, a scan at a time"
    => x := x + {gained}

rung row "What is on its way"
{row}
    => d{cells - 1} := u

rung u
    => u := pi(x, 1, gain = {gain!r}, integral = {integral_s!r} s, direction = reverse)
"""


def swings(rule: tuple[float, float, str], *, gain: float = 1.0, dead: float = 1.0) -> float:
    """How much wider the loop swings around its target late than early: below 1 it settles, above it grows."""
    kc, ti, gained = rule
    program = understand_texts({"loop.rung": project(gain * kc, ti, gained, dead * THETA_S)}).program
    assert program is not None
    trace = CompiledEngine().run(program, Story(120_000), watch=frozenset(), record=True).trace
    assert trace is not None
    error = np.abs(np.array(trace.tags["x"], float) - 1)
    third = len(error) // 3
    return float(error[2 * third :].max() / error[third : 2 * third].max())


@pytest.mark.parametrize(("rule", "margin"), [(INTEGRATING, 2.96), (FIRST_ORDER, 3.14)])
def test_gain_margin(rule: tuple[float, float, str], margin: float) -> None:
    """A twentieth below the published margin the loop settles, a twentieth above it swings ever wider."""
    assert swings(rule) < 0.1
    assert swings(rule, gain=0.95 * margin) < 1
    assert swings(rule, gain=1.05 * margin) > 1


@pytest.mark.parametrize(("rule", "margin"), [(INTEGRATING, 1.59), (FIRST_ORDER, 2.14)])
def test_delay_margin(rule: tuple[float, float, str], margin: float) -> None:
    """So much more dead time is borne, a twentieth of the whole more or less."""
    assert swings(rule, dead=0.95 * (1 + margin)) < 1
    assert swings(rule, dead=1.05 * (1 + margin)) > 1


@pytest.mark.parametrize(
    ("rule", "lag", "gain", "phase"), [(INTEGRATING, 0.0, 2.96, 46.9), (FIRST_ORDER, LAG_S, 3.14, 61.4)]
)
def test_the_published_margins_follow_from_the_rule(
    rule: tuple[float, float, str], lag: float, gain: float, phase: float
) -> None:
    """Gain and phase margin of Kc (1 + 1/(Ti s)) e^(-theta s) times the process, read off its frequency response."""
    kc, ti, _ = rule
    w = np.geomspace(1e-3, 10, 400_000)
    s = 1j * w
    loop = kc * (1 + 1 / (ti * s)) * np.exp(-THETA_S * s) / (s if lag == 0 else lag * s + 1)
    turned = np.unwrap(np.angle(loop))
    assert 1 / abs(loop[np.argmax(turned < -half_turn)]) == pytest.approx(gain, abs=0.01)
    assert 180 + np.degrees(turned[np.argmax(abs(loop) < 1)]) == pytest.approx(phase, abs=0.1)
