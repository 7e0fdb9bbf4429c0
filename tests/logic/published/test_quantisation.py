"""Timers and edges against the physical clock: the laws of scanning.

With scan time T and preset PT, N = ceil(PT/T). Source: worked out from the definitions of
IEC 61131-3:2013 6.6.3.5 (from memory); the published case is T = 10 ms, PT = 50 ms. Delays
are taken to the beginning of the scan that solves the rung; at the terminal all comes one
scan later, which is our declared worst case.
"""

from __future__ import annotations

from itertools import accumulate

import pytest
import rtamt
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.engines.contract import Engine
from rungproof.logic.meaning.program import Event, Story
from tables import ENGINES, program_of, run_text, stage_text

SETTINGS = settings(max_examples=60, deadline=None)
ENGINE = pytest.mark.parametrize("engine", list(ENGINES.values()), ids=list(ENGINES))
CLOCKS = st.tuples(st.integers(1, 40), st.integers(1, 200))


def on_from(engine: Engine, text: str, scan: int, events: tuple[Event, ...], duration: int) -> list[int]:
    """The beginnings (ms) of the scans that solve `q` as on."""
    outcome = engine.run(program_of(text), Story(duration, events, scans=(scan,)), record=True)
    trace = outcome.trace
    assert trace is not None
    return [t - scan for t, q in zip(trace.times, trace.tags["q"], strict=True) if q]


def pulse(rise: int, width: int) -> tuple[Event, ...]:
    return (Event(rise, "clk", True), Event(rise + width, "clk", False))


@ENGINE
@SETTINGS
@given(clock=CLOCKS, phase=st.integers(0, 39))
def test_on_delay_lies_within_one_scan(engine: Engine, clock: tuple[int, int], phase: int) -> None:
    """From the physical edge, an on-delay takes N*T or more and less than (N+1)*T."""
    scan, preset = clock
    scans = -(-preset // scan)
    rise = scan * 3 + phase % scan
    on = on_from(
        engine,
        stage_text(f"on-delay {preset} ms as s"),
        scan,
        (Event(rise, "clk", True),),
        rise + 3 * preset + 9 * scan,
    )
    assert scans * scan <= on[0] - rise < (scans + 1) * scan


@ENGINE
@SETTINGS
@given(clock=CLOCKS, phase=st.integers(0, 39), width=st.integers(1, 400))
def test_pulse_widths_that_fire_an_on_delay(engine: Engine, clock: tuple[int, int], phase: int, width: int) -> None:
    """A pulse of N*T or less never fires an on-delay; one of (N+1)*T or more always does."""
    scan, preset = clock
    scans = -(-preset // scan)
    rise = scan * 2 + phase % scan
    text = stage_text(f"on-delay {preset} ms as s")
    fired = bool(on_from(engine, text, scan, pulse(rise, width), rise + width + preset + 5 * scan))
    if width <= scans * scan:
        assert not fired
    if width >= (scans + 1) * scan:
        assert fired


@ENGINE
def test_pulse_widths_between_leave_it_to_the_phase(engine: Engine) -> None:
    """At T = 10 ms and PT = 50 ms, widths of 51 to 59 ms fire at some phases and not at others."""
    text = stage_text("on-delay 50 ms as s")
    for width in range(51, 60):
        fired = {bool(on_from(engine, text, 10, pulse(20 + phase, width), 200)) for phase in range(10)}
        assert fired == {False, True}, width


@ENGINE
@SETTINGS
@given(
    scan=st.integers(1, 40),
    phases=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=8),
    start=st.integers(0, 40),
)
def test_edges_with_phases_of_a_scan_are_all_seen(
    engine: Engine, scan: int, phases: list[tuple[int, int]], start: int
) -> None:
    """Where every high and low phase lasts a scan or more, every rise is counted (50 Hz at 10 ms)."""
    events, t = [], scan + start
    for high, low in phases:
        events += [Event(t, "clk", True), Event(t + scan + high, "clk", False)]
        t += 2 * scan + high + low
    text = stage_text("count-up 30 as s clear by clear", "count", "clear")
    story = Story(t + 2 * scan, tuple(events), scans=(scan,))
    outcome = engine.run(program_of(text), story, record=True)
    assert outcome.final["inside"] == len(phases)


# -------------------------------------------------------- timers as formulas


def by_oracle(formula: str, trace: list[bool]) -> list[bool]:
    """A past formula over `clk` in rtamt, sample by sample."""
    spec = rtamt.StlDiscreteTimeOfflineSpecification()
    spec.declare_var("clk", "float")
    spec.spec = formula
    spec.parse()
    found = spec.evaluate({"time": list(range(len(trace))), "clk": [float(each) for each in trace]})
    return [robustness > 0 for _, robustness in found]


@ENGINE
@settings(max_examples=25, deadline=None)
@given(st.lists(st.booleans(), min_size=2, max_size=40), st.integers(1, 6))
def test_on_delay_is_a_past_formula(engine: Engine, trace: list[bool], scans: int) -> None:
    """TON of N scans is `historically[0:N] IN and once[N:N] IN`, as rtamt evaluates it."""
    text = stage_text(f"on-delay {scans * 10} ms as s")
    ran = run_text(engine, text, {"clk": "".join("01"[each] for each in trace)})
    formula = f"historically[0:{scans}](clk > 0.5) and once[{scans}:{scans}](clk > 0.5)"
    assert list(ran.columns["q"]) == by_oracle(formula, trace)


@ENGINE
@settings(max_examples=25, deadline=None)
@given(st.lists(st.booleans(), min_size=2, max_size=40), st.integers(1, 6))
def test_off_delay_is_a_past_formula(engine: Engine, trace: list[bool], scans: int) -> None:
    """TOF of N scans is `once[0:N] IN`, as rtamt evaluates it."""
    text = stage_text(f"off-delay {scans * 10} ms as s")
    ran = run_text(engine, text, {"clk": "".join("01"[each] for each in trace)})
    assert list(ran.columns["q"]) == by_oracle(f"once[0:{scans}](clk > 0.5)", trace)


# --------------------------------------------------------- under varying scans

_SCANS = st.lists(st.tuples(st.booleans(), st.integers(1, 60)), min_size=1, max_size=40)


def split(scans: list[tuple[bool, int]]) -> tuple[str, list[int], list[int]]:
    """Inputs, lengths, and the time at which each scan begins."""
    lengths = [length for _, length in scans]
    return "".join("01"[on] for on, _ in scans), lengths, [0, *accumulate(lengths)][: len(lengths)]


def last_change(clk: str, k: int) -> int:
    """The first scan of the stretch of equal inputs that scan `k` stands in."""
    while k > 0 and clk[k - 1] == clk[k]:
        k -= 1
    return k


@ENGINE
@SETTINGS
@given(_SCANS, st.integers(1, 200))
def test_on_delay_adds_real_scan_times(engine: Engine, scans: list[tuple[bool, int]], preset: int) -> None:
    """Under varying scan times an on-delay measures from the beginning of its first powered scan."""
    clk, lengths, begins = split(scans)
    elapsed = [min(preset, begins[k] - begins[last_change(clk, k)]) if clk[k] == "1" else 0 for k in range(len(clk))]
    ran = run_text(engine, stage_text(f"on-delay {preset} ms as s", "elapsed"), {"clk": clk}, lengths)
    assert list(ran.columns["inside"]) == elapsed
    assert list(ran.columns["q"]) == [on == "1" and each >= preset for on, each in zip(clk, elapsed, strict=True)]


@ENGINE
@SETTINGS
@given(_SCANS, st.integers(1, 200))
def test_off_delay_adds_real_scan_times(engine: Engine, scans: list[tuple[bool, int]], preset: int) -> None:
    """Under varying scan times an off-delay measures from the scan that first reads its input off."""
    clk, lengths, begins = split(scans)
    expected = []
    for k in range(len(clk)):
        since = last_change(clk, k)
        expected.append(clk[k] == "1" or (since > 0 and begins[k] - begins[since] < preset))
    ran = run_text(engine, stage_text(f"off-delay {preset} ms as s", "elapsed"), {"clk": clk}, lengths)
    assert list(ran.columns["q"]) == expected


@ENGINE
@SETTINGS
@given(_SCANS, st.integers(1, 200))
def test_pulse_lasts_its_time_whatever_the_scans(engine: Engine, scans: list[tuple[bool, int]], preset: int) -> None:
    """Under varying scan times a pulse stands from its rise to the first scan T later, and no rise within counts."""
    clk, lengths, begins = split(scans)
    expected, began, was_out = [], None, False
    for k in range(len(clk)):
        if was_out and began is not None:
            out = begins[k] - begins[began] < preset
        else:
            out = k > 0 and clk[k - 1 : k + 1] == "01"
            began = k if out else began
        expected.append(out)
        was_out = out
    ran = run_text(engine, stage_text(f"pulse {preset} ms as s", "elapsed"), {"clk": clk}, lengths)
    assert list(ran.columns["q"]) == expected


@ENGINE
@SETTINGS
@given(_SCANS, st.integers(1, 200), st.lists(st.booleans(), min_size=40, max_size=40))
def test_accumulating_on_delay_adds_stretch_by_stretch(
    engine: Engine, scans: list[tuple[bool, int]], preset: int, clears: list[bool]
) -> None:
    """An accumulating on-delay adds the time between powered scans, and holds it in between, until it is cleared."""
    clk, lengths, begins = split(scans)
    expected, total = [], 0
    for k in range(len(clk)):
        if clears[k]:
            total = 0
        elif k > 0 and clk[k - 1 : k + 1] == "11":
            total = min(preset, total + begins[k] - begins[k - 1])
        expected.append(total)
    text = stage_text(f"accumulating on-delay {preset} ms as s clear by clear", "elapsed", "clear")
    ran = run_text(engine, text, {"clk": clk, "clear": clears[: len(clk)]}, lengths)
    assert list(ran.columns["inside"]) == expected
    assert list(ran.columns["q"]) == [each >= preset for each in expected]


@ENGINE
def test_counters_stop_at_the_ends_of_int(engine: Engine) -> None:
    """A count stays at 32767 upward and at -32768 downward (IEC 61131-3, INT; limits from memory)."""
    text = (
        'controller "Row" every 1 ms\n\ntags\n    idle input bool\n    clk memory bool\n    up output bool\n'
        "    down output bool\n    ups memory int 0..32767\n    downs memory int -32768..32767\n"
        "\nrung clk\n    not clk\n    => clk\n"
        "\nrung up\n    clk\n    count-up 5 as u clear by idle\n    => up\n"
        "\nrung down\n    clk\n    count-down 5 as d load by idle\n    => down\n"
        "\nrung ups\n    => ups := u.count\n    => downs := d.count\n"
    )
    trace = engine.run(program_of(text), Story(2 * 32767 + 8), record=True).trace
    assert trace is not None
    columns = [trace.tags[name] for name in ("ups", "downs", "up", "down")]
    assert [column[2 * 32767 - 1] for column in columns] == [32766, -32766, True, True]
    assert [column[-1] for column in columns] == [32767, -32768, True, True]


def test_the_oracle_needs_a_history() -> None:
    """Bounded `historically` alone is vacuously true at the start: the second conjunct excludes that."""
    assert by_oracle("historically[0:3](clk > 0.5)", [True, True])[-1]
    assert not by_oracle("historically[0:3](clk > 0.5) and once[3:3](clk > 0.5)", [True, True])[-1]
