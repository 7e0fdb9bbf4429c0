"""Currents and voltages as channels turn them into counts, and back.

Sources: IEC 60381-1 (4..20 mA) and 60381-2 (0..10 V), from memory; NE 43 (failure at 3.6 mA
and below, 21.0 mA and above), a secondary source; counts of n bits over a range, common
practice, no source. The published counts were worked out independently.
"""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.engines.contract import Engine
from rungproof.logic.engines.reference_plant import measured, sent
from rungproof.logic.meaning.program import Channel, Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.meaning.units import known_unit
from tables import ENGINES

MILLIAMPERE, VOLT = known_unit("mA"), known_unit("V")
ENGINE = pytest.mark.parametrize("engine", list(ENGINES.values()), ids=list(ENGINES))

#: Current in mA: 16-bit and 12-bit counts on 0..20 mA.
CURRENTS = {
    0.0: (0, 0),
    3.6: (11796, 737),
    3.7: (12124, 758),
    3.8: (12452, 778),
    4.0: (13107, 819),
    8.0: (26214, 1638),
    12.0: (39321, 2457),
    16.0: (52428, 3276),
    20.0: (65535, 4095),
    20.5: (65535, 4095),
    21.0: (65535, 4095),
}

#: Current in mA: 16-bit counts on 0..24 mA. Published for 4 and 20 mA, which fall on halves: 10922, 54612.
WIDE_CURRENTS = {3.6: 9830, 4.0: 10922, 20.0: 54612, 21.0: 57343}

#: Voltage: 16-bit counts on 0..10 V. Published for 5 V: 32767 (cut off) or 32768 (half up); ours is half to even.
VOLTAGES = {0.0: 0, 2.5: 16384, 5.0: 32768, 7.5: 49151, 10.0: 65535}

#: Bits: the step of 10 V in mV, by 2^n - 1.
STEPS = {8: 39.215686, 10: 9.775171, 12: 2.442002, 16: 0.152590}


def test_counts_of_currents() -> None:
    """The counts of a 0..20 mA channel are the published ones, clipped above 20 mA."""
    wide, narrow = Channel(0, 20, MILLIAMPERE, 0, 65535), Channel(0, 20, MILLIAMPERE, 0, 4095)
    assert {mA: (measured(wide, mA), measured(narrow, mA)) for mA in CURRENTS} == CURRENTS


def test_counts_of_a_range_that_sees_the_failure_above() -> None:
    """On 0..24 mA, 21 mA can be told from 20 mA; counts on a half go to the even one."""
    channel = Channel(0, 24, MILLIAMPERE, 0, 65535)
    assert {mA: measured(channel, mA) for mA in WIDE_CURRENTS} == WIDE_CURRENTS


def test_counts_of_voltages() -> None:
    """The counts of a 0..10 V channel round half to even."""
    channel = Channel(0, 10, VOLT, 0, 65535)
    assert {V: measured(channel, V) for V in VOLTAGES} == VOLTAGES


@pytest.mark.parametrize("bits", STEPS)
def test_step_of_a_channel(bits: int) -> None:
    """One count more is one published step more, to its six digits."""
    channel = Channel(0, 10, VOLT, 0, 2**bits - 1)
    assert 1000 * sent(channel, 1) == pytest.approx(STEPS[bits], abs=5e-7)


@given(st.sampled_from(sorted(STEPS)), st.floats(0, 10))
def test_round_trip_loses_half_a_step(bits: int, volts: float) -> None:
    """A voltage read as counts and sent again is off by half a step at most."""
    channel = Channel(0, 10, VOLT, 0, 2**bits - 1)
    assert abs(sent(channel, measured(channel, volts)) - volts) <= 5 / (2**bits - 1) + 1e-12


def test_channel_without_counts_holds_the_signal_in_range() -> None:
    """A tag that is the signal itself is held to the channel's range, both ways."""
    channel = Channel(4, 20, MILLIAMPERE)
    assert [measured(channel, x) for x in (0.0, 4.0, 12.5, 21.0)] == [4.0, 4.0, 12.5, 20.0]
    assert [sent(channel, x) for x in (0.0, 4.0, 12.5, 21.0)] == [4.0, 4.0, 12.5, 20.0]


# ------------------------------------------------------------- through wires

INSTRUMENTS = '''
from rungproof.plant import Input, Output, Part, Variable


class Calibrator(Part):
    """Gives the current that its knob is turned to, one tick later."""

    kind = "calibrator"
    inputs = (Input("knob", "disturbance", "real", "mA", 0.0, 24.0, 0.0),)
    variables = (Variable("current", "real", 0.0, "mA", 0.0, 24.0),)
    outputs = (Output("current", "real", "mA", 0.0, 24.0),)

    def step(self, ops, state, inputs, faults):
        return {"current": inputs["knob"]}


class Meter(Part):
    """Shows the voltage at its input, one tick later."""

    kind = "meter"
    inputs = (Input("input", "driven", "real", "V", 0.0, 10.0, 0.0),)
    variables = (Variable("voltage", "real", 0.0, "V", 0.0, 10.0),)
    outputs = (Output("voltage", "real", "V", 0.0, 10.0),)

    def step(self, ops, state, inputs, faults):
        return {"voltage": inputs["input"]}
'''

LOOP = """
controller "Loop" every 10 ms

tags
    counts  input  int 0..65535
    copied  output int 0..65535  on stop hold

rung copy
    => copied := counts

plant "Desk" every 10 ms parts from "instruments.py"
    calibrator G1
    meter M1
    supply P1  24 V

wiring
    controller  from P1
    inputs X1   from P1
    outputs X2  from P1
    counts  at X1:1  0..20 mA as 0..65535  from G1
    copied  at X2:1  0..10 V as 0..65535   to M1.input

requirement R1 "The meter stays on its scale"
    always M1.voltage <= 10 V
"""


@cache
def desk() -> Program:
    """A calibrator, a controller that copies counts, and a meter."""
    understood = understand_texts({"loop.rung": LOOP, "instruments.py": INSTRUMENTS})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    return understood.program


@ENGINE
@pytest.mark.parametrize("current", CURRENTS)
def test_counts_through_the_wiring(engine: Engine, current: float) -> None:
    """What a calibrator sends arrives as the published counts, and leaves as the same share of 10 V."""
    outcome = engine.run(desk(), Story(100, (Event(0, "G1.knob", current),)))
    counts = CURRENTS[current][0]
    assert outcome.final["counts"] == counts
    assert outcome.final["copied"] == counts
    assert outcome.final["M1.voltage"] == pytest.approx(10 * counts / 65535, rel=1e-12)


@ENGINE
@pytest.mark.parametrize(
    ("key", "counts", "volts"),
    [
        ("X1:1!wire_broken", 0, 0.0),
        ("X2:1!wire_broken", 39321, 0.0),
        ("controller!cut", 39321, 0.0),
        ("P1!lost", 39321, 0.0),
        ("controller!stopped", 39321, 6.0),
    ],
)
def test_what_is_left_without_wire_or_power(engine: Engine, key: str, counts: int, volts: float) -> None:
    """A broken wire or a dead supply sends 0 V; inputs stay as last read while nothing scans."""
    story = Story(300, (Event(0, "G1.knob", 12.0), Event(200, key, True)))
    outcome = engine.run(desk(), story)
    assert outcome.final["counts"] == counts
    assert outcome.final["M1.voltage"] == pytest.approx(volts, abs=1e-12)
