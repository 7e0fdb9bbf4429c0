"""Numbers with memory: filter, rate, ramp and pi, as `semantics.md` has them under Memory in expressions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rigs import bench_of

X = "x input real V -100..100\non_it input bool\n"


def test_filter_starts_at_its_input_and_closes_by_a_share() -> None:
    """y + (x - y) * (dt / (T + dt)): from 0 to 10 with T = 90 ms and scans of 10 ms, a tenth of the rest each scan."""
    bench = bench_of(X + "y memory real V -100..100", "y: on_it; => y := filter(x, 90 ms)", every="10 ms")
    seen = [bench.scan(x=0.0, on_it=True).y, *(bench.scan(x=10.0).y for _ in range(3))]
    assert seen == pytest.approx([0.0, 1.0, 1.9, 2.71], rel=1e-12)


def test_filter_comes_near_the_exponential() -> None:
    """In fine steps a filter follows 1 - exp(-t/T) (textbook first-order lag), to the order of the step."""
    bench = bench_of(X + "y memory real V -100..100", "y: on_it; => y := filter(x, 1 s)", every="1 ms")
    bench.scan(x=0.0, on_it=True)
    assert bench.scan(x=1.0, for_ms=1000).y == pytest.approx(1 - math.exp(-1), abs=5e-4)


@pytest.mark.parametrize(
    ("function", "unit", "first", "second"),
    [("filter(x, 90 ms)", "V", 10.0, 9.0), ("rate(x)", "V/s", 0.0, -1000.0), ("ramp(x, 100 V/s)", "V", 10.0, 9.0)],
)
def test_a_new_stretch_starts_anew(function: str, unit: str, first: float, second: float) -> None:
    """The first powered scan after one without starts filter and ramp at their input, rate at 0; so does power-up."""
    bench = bench_of(X + f"y memory real {unit} -5000..5000", f"y: on_it; => y := {function}", every="10 ms")
    bench.scan(x=0.0, on_it=True)
    bench.scan(x=50.0, on_it=False)
    assert bench.scan(x=10.0, on_it=True).y == first
    assert bench.scan(x=0.0).y == pytest.approx(second, rel=1e-12)
    bench.power_cut()
    assert bench.scan(x=10.0).y == first


def test_an_unpowered_scan_holds_the_result() -> None:
    """Without power the tag holds, and the memory is let go."""
    bench = bench_of(X + "y memory real V -100..100", "y: on_it; => y := ramp(x, 100 V/s)", every="10 ms")
    bench.scan(x=0.0, on_it=True)
    assert bench.scan(x=50.0).y == 1.0
    assert bench.scan(on_it=False).y == 1.0
    assert bench.scan(on_it=True).y == 50.0


def test_rate_is_the_change_per_second() -> None:
    """(x - x') / dt, with the length of the scan before."""
    bench = bench_of(X + "v memory real V/s -5000..5000", "v: on_it; => v := rate(x)")
    bench.scan(x=0.0, on_it=True, scan_ms=20)
    assert bench.scan(x=1.0, scan_ms=50).v == 50.0
    assert bench.scan(x=2.0, scan_ms=10).v == 20.0


@settings(deadline=None)
@given(st.lists(st.floats(-100, 100), min_size=2, max_size=12))
def test_ramp_moves_no_faster_than_its_rate(xs: list[float]) -> None:
    """Each scan a ramp moves toward its input by r * dt or less, and reaches it where that is enough."""
    bench = bench_of(X + "y memory real V -100..100", "y: on_it; => y := ramp(x, 500 V/s)", every="10 ms")
    ys = [float(bench.scan(x=x, on_it=True).y) for x in xs]
    assert ys[0] == xs[0]
    for before, now, x in zip(ys, ys[1:], xs[1:], strict=False):
        assert abs(now - before) <= 5 * (1 + 1e-12)
        assert now == pytest.approx(x if abs(x - before) <= 5 else before + math.copysign(5, x - before), abs=1e-9)


# -------------------------------------------------------------------------- pi

PI = "m input real -100..100\nsp input real -100..100\non_it input bool\nu output real 0..{top} on stop 0\n"


def test_pi_in_ideal_form() -> None:
    """u = Kc (e + integral of e / Ti), textbook, from memory: Kc = 2, Ti = 10 s, e = 1 gives 2, 4, 6 at 0, 10, 20 s."""
    bench = bench_of(
        PI.format(top=100),
        "u: on_it; => u := pi(m, sp, gain = 2, integral = 10 s, direction = reverse)",
        every="100 ms",
    )
    assert bench.scan(sp=1.0, m=0.0, on_it=True).u == 2.0
    assert bench.scan(for_ms=10_000).u == pytest.approx(4.0, rel=1e-12)
    assert bench.scan(for_ms=10_000).u == pytest.approx(6.0, rel=1e-12)


def test_direct_action_turns_the_error() -> None:
    """`direct` pushes up where the measured value is above the setpoint."""
    rung = "u: on_it; => u := pi(m, sp, gain = 2, integral = 10 s, direction = {})"
    for direction, measured in (("reverse", -3.0), ("direct", 3.0)):
        bench = bench_of(PI.format(top=100), rung.format(direction))
        assert bench.scan(m=measured, sp=0.0, on_it=True).u == 6.0


def test_pi_starts_where_it_is_told() -> None:
    """`starts from = V` sets the integral part so that the first output is V, whatever the error."""
    bench = bench_of(
        PI.format(top=100),
        "u: on_it; => u := pi(m, sp, gain = 2, integral = 10 s, direction = reverse, starts from = 30)",
        every="1 s",
    )
    assert bench.scan(m=0.0, sp=5.0, on_it=True).u == 30.0
    assert bench.scan().u == pytest.approx(31.0, rel=1e-12)


@pytest.mark.parametrize(("error", "limit", "back"), [(20.0, 10.0, 7.0), (-20.0, 0.0, 3.5)])
def test_pi_does_not_wind_up(error: float, limit: float, back: float) -> None:
    """At a limit the integral part grows no further out, so that the output comes back at once.

    By hand, with K = 1, Ti = 1 s and 0.1 s scans: the integral part grows once, by +-2. Back at
    an error of 5 it first stays at 2 (the last output stood at the limit and 5 still pushes out),
    or comes in from -2 by 0.5.
    """
    rung = "u: on_it; => u := pi(m, sp, gain = 1, integral = 1 s, direction = reverse)"
    bench = bench_of(PI.format(top=10), rung, every="100 ms")
    bench.scan(m=0.0, sp=5.0, on_it=True)
    assert bench.scan(sp=error, for_ms=5_000).u == limit
    assert bench.scan(sp=5.0).u == pytest.approx(back, rel=1e-12)
