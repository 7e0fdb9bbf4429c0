"""Safety behaviour and alarm states of the standards, row by row, as far as the language can say them.

| row | source | where |
|---|---|---|
| S1, S12 | IEC 60204-1 9.2.2, 9.2.3 and NFPA 79, second-hand | below |
| S2 | Directive 2006/42/EC Annex I 1.2.4.3; ISO 13850 (from memory) | below, and `test_restart` |
| S3 | IEC 60204-1 7.5, ISO 14118 (from memory) | below, and `test_restart` |
| S4 | IEC 60204-1, ISO 13850, IEC 60947-5-1 Annex K (from memory) | below |
| S5, S6 | ISO 13849-1; IEC 60947-5-1 Annex L, IEC 60947-4-1 Annex F (from memory) | `test_branch_chipper` |
| S7 | IEC 61511-1 (from memory) | below |
| S8 | API 2350 (from memory): ordering and gaps; not the operators' times, which nothing here waits for | below |
| S9 | ISO 13851 (contents read, 0.5 s from memory) | below for rungs, `test_stations` for the station |
| S10 | IEC 62881 (from memory) | below |
| S11 | IEC 62382 (from memory) | below |
| alarm states A to F | ISA-18.2, IEC 62682 (from memory) | `test_alarm_rows` |
| flash 2 Hz | IEC 60073 (second-hand) | `test_alarm_rows`, and `test_machines` for the beacon |
| starting delay and deadband | ISA-18.2 (from memory) | `test_alarm_rows` |

Not sayable: the alarm states shelved, suppressed and out of service (they need an operator station's own lists);
alarm floods and alarms per hour (there is no count over many alarms); colours of lamps and buttons (parts have
none); category 1 stops that wait for standstill by drive ramps under power; PL, SIL, MTTFD, DC, CCF and PFD (nothing
here knows how often things fail).
"""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path

import pytest
from rungproof.logic.engines.bench import Bench
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs.prove import prove_program

EXAMPLES = Path(__file__).parents[3] / "examples"


@cache
def program(text: str) -> Program:
    understood = understand_texts({"row.rung": text})
    assert understood.program is not None, [d for d in understood.diagnoses if d.grade == "error"]
    return understood.program


RUN = """controller "Row" every 10 ms

tags
    start_pb   input   bool
    stop_ok    input   bool
    estop_ok   input   bool
    automatic  input   bool
    run        output  bool   on stop off

rung run
    (rising start_pb or run) and automatic or (rising start_pb and not automatic) or (run and not automatic)
    stop_ok
    estop_ok
    => run

requirement R1 "Category 0: off in the scan that reads the stop"
    never run and not estop_ok

requirement R2 "Stop overrides start"
    never run and not stop_ok

requirement R3 "Letting a stop go permits, and starts nothing"
    after not estop_ok or not stop_ok never run until rising start_pb

requirement R4 "Supply that returns starts nothing"
    after power_up never run until rising start_pb

requirement R5 "Mode selection alone starts nothing"
    never rising run and not rising start_pb
"""


@pytest.mark.parametrize("row", ["R1", "R2", "R3", "R4", "R5"])
def test_s1_s2_s3_are_proved(row: str) -> None:
    """S1, S2, S3, S12: stop in the same scan and over start; release, supply, mode start nothing: for every input."""
    assert prove_program(program(RUN), time_s=60, only={row})[row].word == "proved"


def test_s2_start_held_throughout() -> None:
    """S2: the start button held through a stop and its release: off until it has been let go and pressed anew."""
    bench = Bench(program(RUN))
    bench.scan(stop_ok=True, estop_ok=True, automatic=True)
    assert bench.scan(start_pb=True).run
    assert not bench.scan(estop_ok=False).run
    assert not bench.scan(estop_ok=True, for_ms=1000).run
    bench.scan(start_pb=False)
    assert bench.scan(start_pb=True).run


def test_s3_first_scan_with_start_on() -> None:
    """S3: start already on in the first scan, and again when power returns: off."""
    bench = Bench(program(RUN))
    assert not bench.scan(start_pb=True, stop_ok=True, estop_ok=True, automatic=True).run
    bench.scan(start_pb=False)
    assert bench.scan(start_pb=True).run
    bench.power_cut()
    assert not bench.scan(for_ms=1000).run


@cache
def tank() -> Program:
    found = understand(EXAMPLES / "header_tank").program
    assert found is not None
    return found


@pytest.mark.parametrize("terminal", ["X1:2", "X1:3"])
def test_s4_a_broken_wire_is_a_demand(terminal: str) -> None:
    """S4: stop and emergency stop are wired closed while healthy: a wire off stops the pump as the button would."""
    presses = [Event(20, "S3.pressed", True), Event(220, "S3.pressed", False), Event(242_000, "S1.pressed", True)]
    story = Story(244_000, (*presses, Event(243_000, f"{terminal}!wire_broken", True)))
    trace = CompiledEngine().run(tank(), story, watch=frozenset(), record=True, every_ms=10).trace
    assert trace is not None
    asked = dict(zip(trace.times, trace.tags["pump_enable"], strict=True))
    assert asked[243_000] is True
    assert not any(asked[t] for t in range(243_100, 244_000, 10))


TRIP = """controller "Row" every 10 ms

tags
    high_ok    input   bool
    reset_pb   input   bool
    bypass_on  input   bool
    trip       memory  bool   retained
    pump       output  bool   on stop off
    bypassed   output  bool   on stop off

rung trip
    not high_ok
    not bypass_on
    => set trip

rung reset
    rising reset_pb
    high_ok
    => reset trip

rung pump
    not trip
    high_ok or bypass_on
    => pump

rung shown
    bypass_on
    => bypassed

requirement R1 "It latches: only a fresh reset with the cause gone ends it"
    never falling trip and not (rising reset_pb and high_ok)

requirement R2 "The cause trips"
    never not high_ok and not bypass_on and not trip

requirement R3 "An active bypass is shown"
    never scanning and bypass_on and not bypassed
"""


@pytest.mark.parametrize("row", ["R1", "R2", "R3"])
def test_s7_trips_latch(row: str) -> None:
    """S7: trips latch, clearing the cause resets nothing, reset wants an edge and the cause gone, a bypass is shown."""
    assert prove_program(program(TRIP), time_s=60, only={row})[row].word == "proved"


def test_s8_levels_stand_in_order_with_time_between_them() -> None:
    """S8 on the header tank's own lines: highest target < high trip < high-high trip < rim; each gap is more than the
    pump's most flow times the response: delay, scans and relay, and the time in which the pump runs down."""
    plant, controller = tank().plant, tank().controller
    assert plant is not None and controller is not None
    parts = {part.name: part for part in plant.assembly.parts}

    def given(part: str, slot: str) -> float:
        value = parts[part].given[slot]
        assert isinstance(value, int | float)
        return float(value)

    rim = given("header", "height")
    area = 1000 * float(plant.assembly.variables["header.volume"].high) / rim  # cm2
    capacity = parts["feed_pump"].given["capacity"]
    assert isinstance(capacity, tuple)
    flow = 1000 * float(capacity[1]) / 60  # cm3/s
    working = 1000 * float(controller.tags["target"].high) / area
    high, high_high = given("LS1", "opens_on_rise"), given("LS2", "opens_on_rise")
    assert working < high < high_high < rim
    runs_down = 5 * given("feed_pump", "lag")
    by_program = 0.5 + 2 * controller.scan_high / 1000 + runs_down
    by_wire = given("K1", "drops_out") / 1000 + runs_down
    assert high_high - high > flow * by_program / area
    assert rim - high_high > flow * by_wire / area


HANDS = """controller "Row" every 10 ms

tags
    left_pb    input   bool
    right_pb   input   bool
    fresh      memory  bool
    both       output  bool   on stop off

rung hands_off
    not left_pb
    not right_pb
    => set fresh

rung hand_on
    left_pb or right_pb
    on-delay 510 ms as too_late

rung both
    left_pb
    right_pb
    fresh
    not too_late or both
    => both

rung over
    falling both
    => reset fresh
"""


@pytest.mark.parametrize(("scans", "on"), [(0, True), (50, True), (51, False)])
def test_s9_two_hands_within_half_a_second(scans: int, on: bool) -> None:
    """S9 at 10 ms: the second button 50 scans after the first is in time, 51 is not."""
    bench = Bench(program(HANDS))
    bench.scan()
    if scans:
        bench.scan(left_pb=True)
        for _ in range(scans - 1):
            bench.scan()
    assert bench.scan(left_pb=True, right_pb=True).both is on


def test_s9_holding_one_and_tapping_the_other() -> None:
    """S9: either hand away, off; on again only after both have been away."""
    bench = Bench(program(HANDS))
    bench.scan()
    assert bench.scan(left_pb=True, right_pb=True).both
    for tap in (False, True, False, True):
        assert not bench.scan(right_pb=tap).both
    bench.scan(left_pb=False, right_pb=False)
    assert bench.scan(left_pb=True, right_pb=True).both


MATRIX = {"stop_pump": {"high", "leak", "estop"}, "shut_valve": {"high", "fire"}, "sound": {"high", "leak", "fire"}}
CAUSES = ("high", "leak", "estop", "fire")


def matrix_text() -> str:
    tags = [f"    {cause}  input   bool" for cause in CAUSES] + [f"    {effect}  output  bool" for effect in MATRIX]
    rungs = [
        f"rung {effect}\n    {' or '.join(cause for cause in CAUSES if cause in causes)}\n    => {effect}\n"
        for effect, causes in MATRIX.items()
    ]
    return "\n".join(['controller "Row" every 10 ms\n\ntags', *tags, "", *rungs])


@pytest.mark.parametrize("present", list(itertools.product([False, True], repeat=len(CAUSES))))
def test_s10_every_vector_of_causes(present: tuple[bool, ...]) -> None:
    """S10: each effect is the OR of its marked causes, over all 16 cause vectors."""
    bench = Bench(program(matrix_text()))
    causes = dict(zip(CAUSES, present, strict=True))
    values = bench.scan(**causes)
    for effect, marked in MATRIX.items():
        assert values[effect] is any(causes[cause] for cause in marked)


LOOP_CHECK = """controller "Row" every 10 ms

tags
    current  input   real mA 0..25
    counts   input   int 0..65535
    share    memory  real % -50..150

rung share
    => share := scale(counts, 13107..65535, 0 %..100 %)

plant "Row" every 10 ms
    dial R1      gives 4..20 mA
    dial R2      gives 4..20 mA

wiring
    current  at X1:1  0..20 mA               from R1
    counts   at X1:2  0..20 mA as 0..65535   from R2
"""


@pytest.mark.parametrize("direction", [1, -1])
def test_s11_loop_check(direction: int) -> None:
    """S11: 0, 25, 50, 75, 100 % up and down are 4, 8, 12, 16, 20 mA, and the counts of that signal on 16 bits."""
    steps = [(0, 4, 13107), (25, 8, 26214), (50, 12, 39321), (75, 16, 52428), (100, 20, 65535)][::direction]
    events = [Event(100 * i, key, float(p)) for i, (p, _, _) in enumerate(steps) for key in ("R1.set_to", "R2.set_to")]
    trace = CompiledEngine().run(program(LOOP_CHECK), Story(600, tuple(events)), watch=frozenset(), record=True).trace
    assert trace is not None
    for index, (percent, current, counts) in enumerate(steps):
        place = trace.times.index(100 * index + 90)
        assert trace.tags["current"][place] == pytest.approx(current)
        assert trace.tags["counts"][place] == counts
        assert trace.tags["share"][place] == pytest.approx(percent, abs=0.01)
