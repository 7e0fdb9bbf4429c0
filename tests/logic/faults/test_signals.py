"""Loss of signal: what the program believes, which way the plant goes, who notices, what would tell."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic.faults.signals import mends
from rungproof.logic.faults.table import fault_table
from rungproof.logic.meaning.program import Channel, InputWire
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.meaning.units import parse_unit

MISTAKES = Path(__file__).parents[3] / "examples" / "mistakes"

TANK = """controller "Tank" every 20 ms

tags
    start_pb  input   bool
    counts    input   int 0..65535
    fill      output  bool  on stop off
    running   memory  bool
    level     memory  real cm -40..120

rung level
    => level := 110 cm - scale(counts, 0..65535, 10 cm..110 cm)

rung run
    rising start_pb or running
    => running

rung fill
    running
    level < 60 cm
    => fill

plant "Tank" every 10 ms
    tank T1               upright cylinder, diameter 60 cm, height 110 cm, starts at 40 cm
    valve V1              into T1, flow 60 L/min
    level_transmitter LT1 above T1 at 110 cm, sees 10 cm..110 cm as 0..10 V
    push_button S1        make contact
    supply P24            24 V

wiring
    controller from P24
    inputs X1 from P24
    inputs X2 from P24
    outputs X3 from P24
    start_pb  at X1:1  from S1
    counts    at X2:1  0..10 V as 0..65535  from LT1
    fill      at X3:1  to V1

hazard H1 "The tank overflows"  safe state not V1.energised

requirement R1 "The valve is shut while the start is not given" against H1
    never fill and not running

scenario "Filled"
    at 1 s  press S1 for 200 ms
    expect  V1.energised within 100 ms
"""


def test_every_analog_input_is_lost_in_four_ways() -> None:
    """0 V reads as full and stops; full scale reads as empty and fills on; what the program believes is said."""
    understood = understand_texts({"tank.rung": TANK})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    losses = {each.how: each for each in fault_table(understood.program, workers=1).signals}
    assert list(losses) == ["0 V", "full scale", "frozen", "floating"]
    assert losses["0 V"].believes == "the program takes level 100 cm"
    assert losses["full scale"].believes == "the program takes level 0 cm"
    assert losses["floating"].believes == "the program takes level 50 cm"
    assert losses["0 V"].goes.startswith("goes to its safe state")
    assert losses["full scale"].noticed == "the machine goes"
    assert "T1.level" in losses["frozen"].goes
    assert "a loss looks like a reading" in losses["0 V"].mends


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        (0.0, 10.0, "V", "a loss looks like a reading"),
        (0.0, 20.0, "mA", "3.6 mA and less is a failure (NE 43), 11796 here"),
        (0.0, 24.0, "mA", "21 mA and more (57343) too"),
        (4.0, 20.0, "mA", "reads anything below as 4 mA"),
        (2.0, 10.0, "V", "below 2 V nothing is measured"),
    ],
)
def test_what_tells_a_loss_from_a_reading(low: float, high: float, unit: str, words: str) -> None:
    """NE 43's bands in counts: 11796 is 3.6 mA on 0..20 mA in 16 bits, 57343 is 21 mA on 0..24 mA (NE 43)."""
    symbol = parse_unit(unit)
    assert symbol is not None
    program = understand(MISTAKES / "lost_signal_read_as_empty.rung").program
    assert program is not None and program.plant is not None
    wire = next(each for each in program.plant.inputs if each.channel is not None)
    channel = Channel(low, high, symbol, 0, 65535)
    assert words in mends(InputWire("level", "X2:1", "LT1.signal", channel, None, wire.span), channel)
