"""Published behaviour as rows that any engine can run: rungs, inputs by scan, what must come out.

A row's inputs hold one value a scan, `0` and `1` for off and on; `expected` holds one value
a scan of each tag named, as visible at that scan's end. Sources of the rows stand beside
them; where our rules declare another choice, `expected` is ours and `published` says what
the source has. Numbers of sections are those of the collection of check values the rows
were taken from; the tables of IEC 61131-3 are cited from memory, their traces were computed
independently.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Engine, Outcome, Trace
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.understand import understand_texts


class PrefixLanes:
    """The lanes engine as one that tells a trace: a lane for every length the story may be cut to, each of which
    ends at an instant and shows what stands there. All that is not asked of a row is left out."""

    def __init__(self) -> None:
        self._lanes = LanesEngine()

    def run(self, program: Program, story: Story, *, record: bool = False, **how: Any) -> Outcome:
        shortest = 1 if record else story.duration_ms
        stories = [replace(story, duration_ms=length) for length in range(shortest, story.duration_ms + 1)]
        found = self._lanes.run_many(program, stories, **how)
        if not record:
            return found[-1]
        rows = {outcome.ended_at: outcome.final for outcome in found}
        tags = {name: [row[name] for row in rows.values()] for name in found[-1].final}
        return replace(found[-1], trace=Trace(list(rows), tags))


#: Every engine runs every row.
ENGINES: dict[str, Engine] = {
    "reference": ReferenceEngine(),
    "compiled": CompiledEngine(),
    "lanes": PrefixLanes(),
}

Column = str | Sequence[Scalar]


@dataclass(frozen=True)
class Row:
    """One published row. `scans` are the scans' lengths in ms; one length stands for all of them."""

    name: str
    source: str
    text: str
    inputs: Mapping[str, Column]
    expected: Mapping[str, Column]
    scans: tuple[int, ...] = (10,)
    published: str = ""

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True)
class Ran:
    """What a run showed: its outcome, and a column of values for each tag, one value a scan."""

    outcome: Outcome
    columns: Mapping[str, Sequence[Scalar]] = field(default_factory=dict)


@cache
def program_of(text: str) -> Program:
    """The program of one file's text; fails with its diagnoses."""
    understood = understand_texts({"row.rung": text})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    return understood.program


def values_of(column: Column) -> list[Scalar]:
    """`"011"` as truths; a sequence as it is."""
    return [each == "1" for each in column] if isinstance(column, str) else list(column)


def story_of(inputs: Mapping[str, Column], scans: Sequence[int]) -> Story:
    """Inputs that change at the beginning of scans."""
    columns = {name: values_of(column) for name, column in inputs.items()}
    count = max(len(column) for column in columns.values())
    lengths = [scans[min(k, len(scans) - 1)] for k in range(count)]
    starts = [sum(lengths[:k]) for k in range(count)]
    events = [
        Event(starts[k], name, column[k])
        for k in range(count)
        for name, column in columns.items()
        if k < len(column) and (k == 0 or column[k] != column[k - 1])
    ]
    return Story(duration_ms=sum(lengths), events=tuple(events), scans=tuple(scans))


def run_text(engine: Engine, text: str, inputs: Mapping[str, Column], scans: Sequence[int] = (10,)) -> Ran:
    """Run a controller's text with inputs that change at the beginning of scans."""
    outcome = engine.run(program_of(text), story_of(inputs, scans), record=True)
    assert outcome.trace is not None
    return Ran(outcome, outcome.trace.tags)


# ------------------------------------------------------------------------ texts


def controller(body: str, tags: str) -> str:
    """A controller around tag lines and rungs, with any scan time from 1 ms to 1 s."""
    return f'controller "Row" every 1..1000 ms\n\ntags\n{tags}\n{body}'


def stage_text(stage: str, reading: str = "", by: str = "") -> str:
    """`clk` through one stage onto `q`; `reading` (`elapsed` or `count`) onto `inside`."""
    tags = "    clk input bool\n    q output bool\n"
    if by:
        tags += f"    {by} input bool\n"
    body = f"\nrung stage\n    clk\n    {stage}\n    => q\n"
    if reading:
        unit = "ms 0..1000" if reading == "elapsed" else "-32768..32767"
        tags += f"    inside memory int {unit}\n"
        body += f"\nrung inside\n    => inside := s.{reading}\n"
    return controller(body, tags)


# ------------------------------------------------------------------- bistables

_SR = "IEC 61131-3:2003 2.5.2.3.1, table 34 (from memory); Q1 = S1 or (not R and Q1)"
_RS = "IEC 61131-3:2003 2.5.2.3.1, table 34 (from memory); Q1 = not R1 and (S or Q1)"
_TWO_INPUTS = "    s input bool\n    r input bool\n    q output bool\n"

SR_BRANCH = controller("\nrung sr\n    s or (not r and q)\n    => q\n", _TWO_INPUTS)
SR_SET_LAST = controller("\nrung r\n    r\n    => reset q\n\nrung s\n    s\n    => set q\n", _TWO_INPUTS)
RS_SERIES = controller("\nrung rs\n    not r\n    s or q\n    => q\n", _TWO_INPUTS)
RS_RESET_LAST = controller("\nrung s\n    s\n    => set q\n\nrung r\n    r\n    => reset q\n", _TWO_INPUTS)

#: S, R, Q before: Q after, set dominant and reset dominant.
BISTABLE = {
    "000": (0, 0),
    "001": (1, 1),
    "010": (0, 0),
    "011": (0, 0),
    "100": (1, 1),
    "101": (1, 1),
    "110": (1, 0),
    "111": (1, 0),
}


def _bistable(name: str, text: str, source: str, place: int) -> list[Row]:
    """A first scan sets or resets, so that Q stands as the row wants it; the second is the row."""
    return [
        Row(
            f"{name} {key}",
            source,
            text,
            {"s": key[2] + key[0], "r": str(1 - int(key[2])) + key[1]},
            {"q": key[2] + str(after[place])},
        )
        for key, after in BISTABLE.items()
    ]


BISTABLES = [
    *_bistable("set dominant, branches", SR_BRANCH, _SR, 0),
    *_bistable("set dominant, set last", SR_SET_LAST, _SR, 0),
    *_bistable("reset dominant, series", RS_SERIES, _RS, 1),
    *_bistable("reset dominant, reset last", RS_RESET_LAST, _RS, 1),
]

# ----------------------------------------------------------------------- edges

_EDGE = "IEC 61131-3:2003 2.5.2.3.2, table 35 (from memory)"
_CLK = "    clk input bool\n    q output bool\n"
RISING_STAGE = stage_text("rising as s")
RISING_CONTACT = controller("\nrung edge\n    rising clk\n    => q\n", _CLK)
FALLING_CONTACT = controller("\nrung edge\n    falling clk\n    => q\n", _CLK)
FALLING_STAGE = controller("\nrung edge\n    not clk\n    rising as s\n    => q\n", _CLK)

EDGES = [
    *(
        row
        for name, text in (("rising contact", RISING_CONTACT), ("rising stage", RISING_STAGE))
        for row in (
            Row(f"{name} 1", _EDGE, text, {"clk": "0110100"}, {"q": "0100100"}),
            Row(f"{name} 2", _EDGE, text, {"clk": "1101"}, {"q": "0001"}, published="1001: no edge on a first scan"),
            Row(f"{name} 3", _EDGE, text, {"clk": "0011"}, {"q": "0010"}),
        )
    ),
    *(
        row
        for name, text in (("falling contact", FALLING_CONTACT), ("falling stage", FALLING_STAGE))
        for row in (
            Row(f"{name} 1", _EDGE, text, {"clk": "0110100"}, {"q": "0001010"}, published="literally 1001010"),
            Row(f"{name} 2", _EDGE, text, {"clk": "1101"}, {"q": "0010"}),
            Row(f"{name} 3", _EDGE, text, {"clk": "0011"}, {"q": "0000"}, published="literally 1000"),
        )
    ),
]

# -------------------------------------------------------------------- counters

_COUNTER = "IEC 61131-3:2013 6.6.3.5.3, table 45 (from memory); up-down counters are not in our language"


def _count_up(n: int) -> str:
    return stage_text(f"count-up {n} as s clear by clear", "count", "clear")


COUNTERS = [
    Row(
        "count up to 2",
        _COUNTER,
        _count_up(2),
        {"clk": "1010101010", "clear": "0000000100"},
        {"q": "0000111000", "inside": [0, 0, 1, 1, 2, 2, 3, 0, 1, 1]},
        published="0011111000 and 1 1 2 2 3 3 4 0 1 1, which count the first scan",
    ),
    Row(
        "count up to 2, begins off",
        _COUNTER,
        _count_up(2),
        {"clk": "01010101010", "clear": "00000000100"},
        {"q": "00011111000", "inside": [0, 1, 1, 2, 2, 3, 3, 4, 0, 1, 1]},
    ),
    Row(
        "on at the first scan",
        _COUNTER,
        _count_up(1),
        {"clk": "111", "clear": "000"},
        {"q": "000", "inside": [0, 0, 0]},
        published="111 and 1 1 1: no edge on a first scan",
    ),
    Row(
        "count down from 3, before load",
        _COUNTER,
        stage_text("count-down 3 as s load by load", "count", "load"),
        {"clk": "0010101010", "load": "0100000000"},
        {"q": "1000001111", "inside": [0, 3, 2, 2, 1, 1, 0, 0, -1, -1]},
    ),
]

# ---------------------------------------------------------------------- timers

_TIMER = "IEC 61131-3:2013 6.6.3.5.4, table 46 and figure 15 (from memory)"
_FREE = "not fixed by the standard; a declared choice"


def _timer(number: int, stage: str, clk: str, q: str, elapsed: str, *, published: str = "") -> Row:
    text = stage_text(f"{stage} as s", "elapsed")
    inside = [int(each) for each in elapsed.split()]
    return Row(f"timer {number}: {stage}", _TIMER, text, {"clk": clk}, {"q": q, "inside": inside}, published=published)


TIMERS = [
    _timer(1, "on-delay 50 ms", "01111111100", "00000011100", "0 0 10 20 30 40 50 50 50 0 0"),
    _timer(2, "on-delay 50 ms", "01111100", "00000000", "0 0 10 20 30 40 0 0"),
    _timer(3, "on-delay 50 ms", "011111100", "000000100", "0 0 10 20 30 40 50 0 0"),
    _timer(4, "on-delay 45 ms", "0111111100", "0000001100", "0 0 10 20 30 40 45 45 0 0"),
    _timer(7, "on-delay 30 ms", "1111110", "0001110", "0 10 20 30 30 30 0"),
    _timer(8, "off-delay 50 ms", "0110000000010", "0111111100011", "0 0 0 0 10 20 30 40 50 50 50 0 0"),
    _timer(11, "off-delay 50 ms", "000", "000", "0 0 0"),
    _timer(13, "pulse 50 ms", "011111111100", "011111000000", "0 0 10 20 30 40 50 50 50 50 0 0"),
    _timer(14, "pulse 50 ms", "0100000000", "0111110000", "0 0 10 20 30 40 0 0 0 0"),
    _timer(16, "pulse 50 ms", "01000010000000", "01111100000000", "0 0 10 20 30 40 50 0 0 0 0 0 0 0", published=_FREE),
]

#: Presets of 0 (rows 6, 12, 17 of the timers, PV = 0 of the counters) are refused here.
#: Published: TON 0 ms and TOF 0 ms follow their input, TP 0 ms never gives, CTU 0 is always on.
REFUSED_PRESETS = [
    stage_text("on-delay 0 ms as s"),
    stage_text("off-delay 0 ms as s"),
    stage_text("pulse 0 ms as s"),
    stage_text("accumulating on-delay 0 ms as s clear by clear", by="clear"),
    stage_text("count-up 0 as s clear by clear", by="clear"),
    stage_text("count-down 0 as s load by load", by="load"),
]

# -------------------------------------------------------------- safe behaviour

_RUN_TAGS = """    start_pb  input  bool
    stop_ok   input  bool
    estop_ok  input  bool
    running   memory bool
    motor     output bool on stop off
"""
RUN = controller(
    "\nrung run\n    rising start_pb or running\n    stop_ok\n    estop_ok\n    => running\n    => motor\n", _RUN_TAGS
)
_TRIP_TAGS = """    level_ok  input  bool
    reset_pb  input  bool
    trip      memory bool retained
    pump      output bool on stop off
    trip_lamp output bool on stop off
"""
TRIP = controller(
    "\nrung trip\n    not level_ok\n    => set trip\n"
    "\nrung clear\n    rising reset_pb\n    level_ok\n    => reset trip\n"
    "\nrung pump\n    level_ok\n    not trip\n    => pump\n"
    "\nrung lamp\n    trip\n    => trip_lamp\n",
    _TRIP_TAGS,
)
_TWO_HAND_TAGS = """    left   input  bool
    right  input  bool
    both   memory bool
    either memory bool
    armed  memory bool
    late   memory bool
    press  output bool on stop off
"""
#: Both within 0.5 s; ends with either; again only after both were let go.
TWO_HAND = controller(
    "\nrung both\n    left\n    right\n    => both\n"
    "\nrung either\n    left or right\n    => either\n"
    "\nrung rested\n    not either\n    => set armed\n"
    "\nrung late\n    either\n    not both\n    on-delay 500 ms as waited\n    => late\n"
    "\nrung spent\n    late\n    => reset armed\n"
    "\nrung press\n    both\n    armed or press\n    => press\n"
    "\nrung used\n    press\n    => reset armed\n",
    _TWO_HAND_TAGS,
)

_S1 = "S1: IEC 60204-1 9.2.2 and 9.2.3 (secondary source): a stop overrides a start"
_S2 = "S2: Directive 2006/42/EC Annex I 1.2.4.3; ISO 13850 (from memory): release only permits a restart"
_S3 = "S3: IEC 60204-1 7.5, ISO 14118 (from memory): power that returns starts nothing"
_S4 = "S4: IEC 60204-1, ISO 13850, IEC 60947-5-1 annex K (from memory): a broken wire reads as a demand"
_S7 = "S7: IEC 61511-1 (from memory): a trip latches, and only a reset by hand with the cause gone clears it"
_S9 = "S9: ISO 13851 clauses 5.2 to 5.8 (contents seen; 0.5 s from memory), type III"


def _held(*spans: tuple[int, str]) -> str:
    return "".join(value * count for count, value in spans)


BEHAVIOUR = [
    Row(
        "S1 stop and start at once",
        _S1,
        RUN,
        {"start_pb": "0101010", "stop_ok": "1110011", "estop_ok": "1111111"},
        {"motor": "0110011"},
    ),
    Row(
        "S2 emergency stop with start held",
        _S2,
        RUN,
        {"start_pb": "011111110110", "stop_ok": "1" * 12, "estop_ok": "111001111111"},
        {"motor": "011000000111"},
    ),
    Row(
        "S3 start already on at the first scan",
        _S3,
        RUN,
        {"start_pb": "1111011", "stop_ok": "1" * 7, "estop_ok": "1" * 7},
        {"motor": "0000011"},
    ),
    Row(
        "S4 wire of the stop breaks",
        _S4,
        RUN,
        {"start_pb": "0100000", "stop_ok": "1110111", "estop_ok": "1" * 7},
        {"motor": "0110000"},
    ),
    Row(
        "S4 wire of the emergency stop breaks",
        _S4,
        RUN,
        {"start_pb": "0100000", "stop_ok": "1" * 7, "estop_ok": "1110111"},
        {"motor": "0110000"},
    ),
    Row(
        "S7 trip",
        _S7,
        TRIP,
        {"level_ok": "11010011111", "reset_pb": "00001110010"},
        {"trip": "00111111100", "pump": "11000000011", "trip_lamp": "00111111100"},
    ),
    Row(
        "S9 second hand after 0.50 s",
        _S9,
        TWO_HAND,
        {"left": _held((1, "0"), (80, "1")), "right": _held((51, "0"), (30, "1"))},
        {"press": _held((51, "0"), (30, "1"))},
    ),
    Row(
        "S9 second hand after 0.51 s",
        _S9,
        TWO_HAND,
        {"left": _held((1, "0"), (80, "1")), "right": _held((52, "0"), (29, "1"))},
        {"press": "0" * 81},
    ),
    Row(
        "S9 one hand held, the other taps",
        _S9,
        TWO_HAND,
        {"left": _held((1, "0"), (20, "1")), "right": "001110011001100110011"},
        {"press": "001110000000000000000"},
    ),
    Row(
        "S9 again after both were let go",
        _S9,
        TWO_HAND,
        {"left": "0111000110", "right": "0111110010"},
        {"press": "0111000010"},
    ),
]

ROWS = [*BISTABLES, *EDGES, *COUNTERS, *TIMERS, *BEHAVIOUR]
