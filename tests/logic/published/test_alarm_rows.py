"""Alarm states of the standards, row by row; what cannot be said of alarms stands in `test_safety_rows`.

Sources: ISA-18.2 and IEC 62682 for the states A to F, the starting delay and the deadband (from memory); IEC 60073 for
the flash of 2 Hz (second-hand).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from functools import cache

import pytest
from rungproof.logic.engines.bench import Bench
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts


@cache
def program(text: str) -> Program:
    understood = understand_texts({"row.rung": text})
    assert understood.program is not None, [d for d in understood.diagnoses if d.grade == "error"]
    return understood.program


ALARM = """controller "Row" every 10 ms

tags
    cause     input   bool
    ack_pb    input   bool
    reset_pb  input   bool
    unacked   memory  bool   retained
    latched   memory  bool   retained

rung come
    rising cause or (cause and not latched)
    => set unacked
    => set latched

rung acknowledged
    rising ack_pb
    => reset unacked

rung gone
    not cause
    {release}
    => reset latched
"""

#: State -> (cause, unacked, latched). A plain alarm has nothing latched once its cause and its word are gone.
STATES = {
    "A": (False, False, False),
    "B": (True, True, True),
    "C": (True, False, True),
    "D": (False, True, False),
    "E": (False, True, True),
    "F": (False, False, True),
}

PLAIN_MOVES = ["A alarm B", "B ack C", "B normal D", "C normal A", "D ack A", "D alarm B"]
LATCHING_MOVES = [
    "A alarm B", "B ack C", "B normal E", "C normal F", "E ack F", "E alarm B", "F alarm B", "F reset A"
]  # fmt: skip
WAYS = {
    False: {"A": [], "B": ["alarm"], "C": ["alarm", "ack"], "D": ["alarm", "normal"]},
    True: {
        "A": [],
        "B": ["alarm"],
        "C": ["alarm", "ack"],
        "E": ["alarm", "normal"],
        "F": ["alarm", "ack", "normal"],
    },
}


def alarm(latching: bool, moves: Iterable[str]) -> str:
    """The state after these moves."""
    release = "rising reset_pb\n    not unacked" if latching else "not cause"
    bench = Bench(program(ALARM.replace("{release}", release)))
    bench.scan()
    for move in moves:
        match move:
            case "alarm" | "normal":
                bench.scan(cause=move == "alarm")
            case "ack":
                bench.scan(ack_pb=True)
                bench.scan(ack_pb=False)
            case _:
                bench.scan(reset_pb=True)
                bench.scan(reset_pb=False)
    values = bench.values
    found = (values.cause, values.unacked, values.latched)
    return next(name for name, state in STATES.items() if state == found)


@pytest.mark.parametrize(("latching", "move"), [(False, m) for m in PLAIN_MOVES] + [(True, m) for m in LATCHING_MOVES])
def test_alarm_states(latching: bool, move: str) -> None:
    """Every filled cell of the table of ISA-18.2 and IEC 62682 (from memory): plain alarms, and those that latch."""
    before, event, after = move.split()
    way = WAYS[latching][before]
    assert alarm(latching, way) == before
    assert alarm(latching, [*way, event]) == after


@pytest.mark.parametrize(
    ("before", "event"), [("E", "reset"), ("B", "reset"), ("C", "reset"), ("A", "ack"), ("F", "ack")]
)
def test_alarm_cells_without_an_entry_change_nothing(before: str, event: str) -> None:
    """A reset does nothing before the acknowledgement or with the cause there, nor an acknowledgement in A and F."""
    way = WAYS[True][before]
    assert alarm(True, [*way, event]) == before


FLASH = """controller "Row" every 10 ms

tags
    alarm  input   bool
    lit    output  bool

rung bright
    alarm
    not dark_long
    on-delay 250 ms as bright_long

rung dark
    bright_long
    on-delay 250 ms as dark_long

rung lit
    alarm
    not bright_long
    => lit
"""


def test_flash_at_two_hertz() -> None:
    """Lit and dark for 250 ms each, and a scan more for each timer: within 1.4 to 2.8 Hz (IEC 60073, second-hand)."""
    bench = Bench(program(FLASH))
    bench.scan()
    bench.scan(alarm=True)
    states = [bool(bench.scan().lit) for _ in range(1000)]
    rises = [i for i, (before, now) in enumerate(itertools.pairwise(states)) if now and not before]
    hertz = 1 / (0.01 * (rises[-1] - rises[0]) / (len(rises) - 1))
    assert 1.4 <= hertz <= 2.8
    assert hertz == pytest.approx(2, abs=0.1)


DELAYED = """controller "Row" every 1 s

tags
    level  input   real % 0..100
    high   memory  bool
    alarm  output  bool

rung high "Deadband of 5 %"
    level > 80 % or high
    level > 75 %
    => high

rung alarm "Delay of 60 s"
    high
    on-delay 60 s as stands
    => alarm
"""


def test_starting_delay_and_deadband_of_a_level_alarm() -> None:
    """5 % and 60 s for a level (ISA-18.2, from memory): a wave of 50 s gives none, one that stands gives one, and a
    ripple inside the deadband does not end it."""
    bench = Bench(program(DELAYED))
    alarms = [bool(bench.scan(level=82.0 if (second // 25) % 2 == 0 else 70.0).alarm) for second in range(500)]
    assert not any(alarms)
    alarms = [bool(bench.scan(level=82.0 if second % 2 else 77.0).alarm) for second in range(200)]
    assert sum(now and not before for before, now in itertools.pairwise(alarms)) == 1
    assert alarms[-1]
