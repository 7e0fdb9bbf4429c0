"""What the benchmarks run: programs, stories, and a scan as somebody would write it in Python by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.steps.controller import lower_scan
from rungproof.logic.steps.step import Step

EXAMPLES = Path(__file__).parents[2] / "examples"
NONE: frozenset[str] = frozenset()


def header_tank() -> Program:
    program = understand(EXAMPLES / "header_tank").program
    assert program is not None
    return program


def filling(lane: int, duration_ms: int) -> Story:
    """Somebody resets and starts the header tank's pump; how much is drawn depends on the lane."""
    events = [(0, "drip_lines.opening", float(lane * 37 % 90))]
    events += [(1000, "S3.pressed", True), (1200, "S3.pressed", False)]
    events += [(245_000, "S1.pressed", True), (245_200, "S1.pressed", False)]
    return Story(duration_ms, tuple(Event(*each) for each in events), lane=lane)


def program_of(text: str) -> Program:
    program = understand_texts({"main.rung": text}).program
    assert program is not None
    return program


def rungs_text(count: int) -> str:
    """`count` rungs of seal-ins, timers and latches, each leaning on the one before."""
    tags = ["    start input bool", "    stop_ok input bool"]
    tags += [f"    m{i} memory bool" for i in range(count)]
    lines = []
    for i in range(count):
        before = f"m{i - 1}" if i else "start"
        stage = f"    on-delay {20 * (i % 7 + 1)} ms as d{i}\n" if i % 5 == 0 else ""
        lines.append(f"rung r{i}\n    {before} or m{i}\n    stop_ok\n{stage}    => m{i}\n")
    return 'controller "Many" every 20 ms\n\ntags\n' + "\n".join(tags) + "\n\n" + "\n".join(lines)


def interlocks(count: int) -> Step:
    """One scan of `count` boolean rungs: seal-ins, edges, latches, each leaning on the one before."""
    tags = ["    a input bool", "    b input bool", *(f"    m{i} memory bool" for i in range(count))]
    lines = []
    for i in range(count):
        before, start = f"m{i - 1}" if i else "b", ("rising a", "not b", "a")[i % 3]
        kind = ("", "set ", "reset ", "not ")[i % 4]
        lines.append(f"rung r{i}\n    {start} or m{i}\n    {before} or a\n    => {kind}m{i if i % 4 != 2 else i - 1}\n")
    text = 'controller "Interlocks" every 20 ms\n\ntags\n' + "\n".join(tags) + "\n\n" + "\n".join(lines)
    controller = program_of(text).controller
    assert controller is not None
    return lower_scan(controller).slice([f"m{i}" for i in range(count)])


LIFT = """controller "Lift" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    reset_pb  input   bool
    counts    input   int 0..65535
    motor     output  bool           on stop off
    valve     output  bool           on stop off
    speed     output  real V 0..10   on stop 0 V
    trip      memory  bool
    level     memory  real cm 0..200

rung run
    rising start_pb or motor
    stop_ok
    not trip
    => motor

rung late
    motor
    on-delay 500 ms as warm
    => valve

rung starts
    rising motor
    count-up 5 as many clear by reset_pb
    => set trip

rung reset
    rising reset_pb
    => reset trip

rung level
    => level := scale(counts, 0..65535, 0 cm..200 cm)

rung speed
    motor
    level < 150 cm
    => speed := min(10 V, 0.1 V/cm * (150 cm - level))

rung halt
    not motor
    => speed := 0 V
"""


def lift_story(duration_ms: int) -> Story:
    """Starts and stops, and a level that rises and falls."""
    events = [Event(0, "stop_ok", True)]
    for at in range(0, duration_ms, 400):
        events += [Event(at, "start_pb", True), Event(at + 60, "start_pb", False)]
        events += [Event(at, "counts", at * 37 % 65536), Event(at + 350, "stop_ok", at % 1200 == 0)]
        events += [Event(at + 380, "stop_ok", True)]
        events += [Event(at + 390, "reset_pb", at % 4000 == 0), Event(at + 395, "reset_pb", False)]
    return Story(duration_ms, tuple(events))


def lift_by_hand(duration_ms: int, events: tuple[Event, ...]) -> dict[str, bool | int | float]:
    """The same scans as a Python function that somebody wrote for this controller alone; the tags at the end."""
    start_pb = stop_ok = reset_pb = motor = valve = trip = False
    counts, level, speed = 0, 0.0, 0.0
    start_was = reset_was = motor_was = met = counted = False
    elapsed = count = 0
    first = True
    coming: Iterator[Event] = iter(sorted(events, key=lambda event: event.at_ms))
    event = next(coming, None)
    for now in range(0, duration_ms, 10):
        while event is not None and event.at_ms <= now:
            match event.key:
                case "start_pb":
                    start_pb = bool(event.value)
                case "stop_ok":
                    stop_ok = bool(event.value)
                case "reset_pb":
                    reset_pb = bool(event.value)
                case _:
                    counts = int(event.value)
            event = next(coming, None)
        motor = ((start_pb and not start_was and not first) or motor) and stop_ok and not trip
        elapsed = min(500, elapsed + 10) if motor and met else 0
        met = motor
        valve = motor and elapsed >= 500
        rose = motor and not motor_was and not first
        if reset_pb:
            count = 0
        elif rose and not counted and not first:
            count = min(count + 1, 32767)
        counted = rose
        if count >= 5:
            trip = True
        if reset_pb and not reset_was and not first:
            trip = False
        start_was, reset_was, motor_was = start_pb, reset_pb, motor
        level = min(max(0.0 + (counts * 200.0) / 65535.0, 0.0), 200.0)
        if motor and level < 150.0:
            speed = min(max(min(10.0, 0.1 * (150.0 - level)) + 0.0, 0.0), 10.0)
        if not motor:
            speed = 0.0
        first = False
    shown = {"start_pb": start_pb, "stop_ok": stop_ok, "reset_pb": reset_pb, "counts": counts}
    return shown | {"motor": motor, "valve": valve, "speed": speed, "trip": trip, "level": level}
