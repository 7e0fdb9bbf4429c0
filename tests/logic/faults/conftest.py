"""A small rig: a motor with a start button and an emergency stop, by wire and by program."""

from __future__ import annotations

import pytest
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

RIG = """controller "Rig" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    run       output  bool  on stop off
    run_lamp  output  bool  on stop off

rung run
    rising start_pb or run
    stop_ok
    => run
    => run_lamp

plant "Rig" every 5 ms
    motor M1           runs up 100 ms, runs down 100 ms
    push_button S1     make contact
    emergency_stop S0  latching, break contacts 2
    lamp P1
    lamp P2
    supply P24         24 V

circuit "Motor" from P24
    rung motor
        {wire}
        run
        => M1.supply

    rung spare
        S1.1
        => P2

wiring
    controller from P24
    inputs X1 from P24
    outputs X2 from P24
    start_pb  at X1:1  from S1
    stop_ok   at X1:2  from S0.2
    run       at X2:1
    run_lamp  at X2:2  to P1

hazard H1 "The motor turns when it must not"  safe state not M1.energised

requirement R1 "100 ms after the stop is hit the motor is without supply" against H1
    {scope}
    whenever S0.pressed has stood for 100 ms then not M1.energised

scenario "A start"
    at 100 ms  press S1 for 100 ms
    expect     M1.energised within 100 ms
"""


def rig(wire: str = "S0.1", scope: str = "# with no fault") -> Program:
    """The rig; `wire` is the hardwired contact in the motor's circuit, `scope` the scope of R1."""
    understood = understand_texts({"rig.rung": RIG.format(wire=wire, scope=scope)})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    return understood.program


@pytest.fixture(scope="session")
def wired() -> Program:
    """The stop acts by wire and by program."""
    return rig()


@pytest.fixture(scope="session")
def unwired() -> Program:
    """The stop acts through the program alone, and R1 claims that one fault does not matter."""
    return rig("S0.1 or run", "even with any one fault")
