"""A self-test with known answers: run on this machine, by the engines and provers that the report rests on.

It shows that the installation works, not that the model is the machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.engines.contract import Engine
from rungproof.logic.engines.reference_plant import measured
from rungproof.logic.meaning.program import Channel, Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.meaning.units import known_unit

_TIMER = """\
controller "Timer" every 10 ms

tags
    in_1   input   bool
    out_1  output  bool

rung timed
    in_1
    {stage} 50 ms as timed
    => out_1
"""

_LATCH = """\
controller "Latch" every 10 ms

tags
    set_1    input   bool
    reset_1  input   bool
    q        output  bool

rung latch
    set_1 or q
    not reset_1
    => q

requirement R1 "Reset wins"
    never q and reset_1

requirement R2 "It is never set"
    never q
"""

_DRAIN = """\
plant "Drain" every 10 ms
    tank drum     upright cylinder, diameter 100 cm, height 250 cm, starts at 1570.7963267948966 L
    outlet hole   from drum, orifice 20 mm, coefficient 0.61, opening 0..100 %
    supply P24    24 V
"""

#: Rises of a published row are fed at these scans; on at these scans: IEC 61131-3, timers of 50 ms, 10 ms scan.
_ROWS = (("on-delay", "01111111100", "00000011100"), ("off-delay", "0110000000010", "0111111100011"))


@dataclass(frozen=True, slots=True)
class KnownAnswer:
    """One question, the answer that is known, where from, and what came out here."""

    question: str
    source: str
    known: str
    found: str

    @property
    def agrees(self) -> bool:
        return self.known == self.found


def self_test() -> tuple[KnownAnswer, ...]:
    """Ask all questions, now and here."""
    return tuple(_asked())


def _asked() -> Iterator[KnownAnswer]:
    engines = (("reference engine", reference_engine()), ("compiled engine", fast_engine()))
    for name, engine in engines:
        for stage, given, known in _ROWS:
            question = f"{stage} of 50 ms, input {given} by scans of 10 ms, {name}"
            yield KnownAnswer(question, "IEC 61131-3, standard timers (from memory)", known, _row(engine, stage, given))
        yield _answered(
            "set-reset latch, reset dominant: q for set 010010 and reset 000110, " + name,
            "IEC 61131-3, RS (from memory)",
            "011000",
            partial(_latch, engine),
        )
    channel = Channel(0, 20, known_unit("mA"), 0, 65535)
    counts = " ".join(str(measured(channel, current)) for current in (4, 8, 12, 16, 20))
    yield KnownAnswer(
        "counts of 4, 8, 12, 16, 20 mA on 0..20 mA in 16 bits",
        "IEC 60381-1 (from memory), arithmetic",
        "13107 26214 39321 52428 65535",
        counts,
    )
    yield _answered(
        "level after 500 s, in mm, of a tank of 1 m and 2 m of water that drains through 20 mm",
        "closed form",
        "1308.9",
        _drained,
    )
    yield _answered(
        "reset wins in the latch: what the prover says", "2 states, by hand", "proved", lambda: _proof("R1")
    )
    yield _answered(
        "the latch is never set: what the prover says", "one press, by hand", "violated", lambda: _proof("R2")
    )
    yield _answered("the latch is never set: what the search says", "one press, by hand", "violated", _searched)


def _answered(question: str, source: str, known: str, ask: Callable[[], str]) -> KnownAnswer:
    try:
        found = ask()
    except Exception as error:
        found = f"no answer: {type(error).__name__}"
    return KnownAnswer(question, source, known, found)


def _program(text: str) -> Program:
    program = understand_texts({"self_test.rung": text}).program
    if program is None:
        raise ValueError("the self-test's own text cannot be read")
    return program


def _story(rows: dict[str, str]) -> Story:
    events = [
        Event(scan * 10, name, sign == "1")
        for name, row in rows.items()
        for scan, sign in enumerate(row)
        if scan == 0 or sign != row[scan - 1]
    ]
    length = len(next(iter(rows.values())))
    return Story(length * 10, tuple(sorted(events, key=lambda event: event.at_ms)))


def _column(engine: Engine, program: Program, story: Story, name: str) -> str:
    trace = engine.run(program, story, record=True).trace
    assert trace is not None
    return "".join("1" if value else "0" for value in trace.tags[name])


def _row(engine: Engine, stage: str, given: str) -> str:
    return _column(engine, _program(_TIMER.format(stage=stage)), _story({"in_1": given}), "out_1")


def _latch(engine: Engine) -> str:
    return _column(engine, _program(_LATCH), _story({"set_1": "010010", "reset_1": "000110"}), "q")


def _drained() -> str:
    program = _program(_DRAIN)
    story = Story(500_000, (Event(0, "hole.opening", 100.0),))
    level = fast_engine().run(program, story).final["drum.level"]
    return f"{float(level) * 10:.1f}"


def _proof(name: str) -> str:
    from rungproof.logic.proofs.prove import prove_program

    return prove_program(_program(_LATCH), time_s=60.0, only=[name], workers=1, rationed=True)[name].word


def _searched() -> str:
    from rungproof.logic.checks.check import check_program

    program = _program(_LATCH)
    alone = replace(program, requirements=tuple(each for each in program.requirements if each.name == "R2"))
    return check_program(alone, runs=20, unhurried=True).verdict("R2").word
