"""Programs that the tests of this folder share, made from text once."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

#: Without a plant: a number, a parameter, a timer, a scan time that varies.
KETTLE = """\
controller "Kettle" every 10..30 ms

tags
    lid_ok     input      bool
    start_pb   input      bool
    warmth     input      int 0..1000
    draught    input      real m/s -5..5
    limit      parameter  real m/s 0..5 = 2 m/s
    hot        memory     bool
    heating    output     bool   on stop off

rung hot
    warmth > 700
    on-delay 60 ms as steady
    => hot

rung heat
    rising start_pb or heating
    lid_ok
    not hot
    draught < limit
    => heating

requirement R1 "No heat without the lid"
    never heating and not lid_ok
"""

#: With a plant: buttons, an outlet, relays, faults, free outputs, noise.
BARREL = """\
controller "Barrel" every 10 ms

tags
    fill_pb    input    bool
    stop_ok    input    bool
    depth      input    int 0..1000
    filling    output   bool   on stop off

rung fill
    rising fill_pb or filling
    stop_ok
    depth > 100
    => filling

plant "Barrel" every 5 ms
    reservoir well       holds 500 L, starts at 400 L
    tank barrel          upright cylinder, diameter 10 cm, height 50 cm, starts at 1 L
    pump riser           from well into barrel, 0..60 L/min, fixed speed
    outlet tap           from barrel into well, orifice 8 mm, coefficient 0.61, opening 0..100 %
    level_transmitter L1 above barrel at 60 cm, sees 10 cm..60 cm as 0..10 V, on lost echo 10 V, noise 2 mm, every 50 ms
    push_button S1       make contact
    push_button S2       break contact
    emergency_stop S0    latching, break contact
    relay K1             pulls in 10 ms, drops out 20 ms, make contact
    supply P24           24 V

circuit "Riser" from P24
    rung safe
        S0
        filling
        => K1

    rung riser
        K1
        => riser.supply

wiring
    controller   from P24
    inputs X1    from P24
    outputs X2   from P24
    fill_pb      at X1:1   from S1
    stop_ok      at X1:2   from S2
    depth        at X1:3   0..10 V as 0..1000   from L1
    filling      at X2:1

requirement R1 "Half a second after the emergency stop is hit the riser is dead"
    with outputs free
    whenever S0.pressed has stood for 500 ms then not riser.energised

requirement R2 "The same even if something fails"
    even with any one fault
    whenever S0.pressed has stood for 500 ms then not riser.energised

requirement R3 "The riser stops by itself"
    whenever riser.energised then not riser.energised within 200 ms
"""


@cache
def program_of(text: str) -> Program:
    """The program of a text that must be runnable."""
    understanding = understand_texts({"main.rung": text})
    assert understanding.program is not None, understanding.diagnoses
    return understanding.program


@pytest.fixture(scope="session")
def make() -> Callable[[str], Program]:
    """Text to Program."""
    return program_of


@pytest.fixture(scope="session")
def kettle() -> Program:
    return program_of(KETTLE)


@pytest.fixture(scope="session")
def barrel() -> Program:
    return program_of(BARREL)
