"""What can fail, and how it comes: for good, on and off like a loose wire, or for a moment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Event, Program

#: How long supplies dip (ms). IEC 61131-2 lets a controller ride through 10 ms; 5 to 500 ms are as asked for.
DIPS_MS = (5, 20, 100, 500)

#: A loose wire: gone so long, there so long, so many times (ms). Declared sizes, no source.
GONE_MS, THERE_MS, TIMES = 200, 300, 10

#: A controller that starts anew is without power for so long (ms).
RESTART_MS = 500

#: Faults that also come on and off.
LOOSE = frozenset({"wire_broken", "stays_open", "echo_lost", "shorted_to_supply"})

FOR_GOOD, ON_AND_OFF, FOR_A_MOMENT = "for good", "on and off", "for a moment"


@dataclass(frozen=True, slots=True)
class Variant:
    """A fault and how it comes. `pattern`: when (ms after it first comes) which knob takes which value."""

    key: str
    part: str
    fault: str
    words: str
    comes: str
    pattern: tuple[tuple[int, str, bool], ...]

    def events(self, at_ms: int) -> list[Event]:
        """Its events, if it first comes at `at_ms`."""
        return [Event(at_ms + after, key, value) for after, key, value in self.pattern]

    @property
    def name(self) -> str:
        return f"{self.part} {self.fault}"


def variants_of(program: Program) -> list[Variant]:
    """Every fault of a program, in the order of its knobs."""
    found: list[Variant] = []
    for knob in program.knobs.values():
        part, _, fault = knob.key.partition("!")
        if knob.kind == "fault" and fault == "memory_lost":
            found.append(_restarted(knob.key, "memory_lost", "it starts anew, and what is retained is lost"))
        elif knob.kind in ("fault", "stop"):
            found.append(Variant(knob.key, part, fault, knob.words, FOR_GOOD, ((0, knob.key, True),)))
            if fault in LOOSE:
                found.append(Variant(knob.key, part, f"{fault}, on and off", knob.words, ON_AND_OFF, _loose(knob.key)))
        elif knob.kind == "power" and part == "controller":
            found.append(Variant(knob.key, part, "without power", knob.words, FOR_GOOD, ((0, knob.key, True),)))
            found.append(_restarted(None, "restarted", "it loses its power for half a second and starts anew"))
        elif knob.kind == "power":
            found += _supply(knob.key, part, knob.words, program.plant.tick if program.plant else 1)
    return found


def _loose(key: str) -> tuple[tuple[int, str, bool], ...]:
    period = GONE_MS + THERE_MS
    return tuple(event for i in range(TIMES) for event in ((i * period, key, True), (i * period + GONE_MS, key, False)))


def _supply(key: str, part: str, words: str, tick: int) -> Iterator[Variant]:
    yield Variant(key, part, "lost", words, FOR_GOOD, ((0, key, True),))
    for dip in dict.fromkeys(max(tick, each - each % tick) for each in DIPS_MS):
        pattern = ((0, key, True), (dip, key, False))
        yield Variant(key, part, f"dips {time_words(dip)}", "the supply is gone for a moment", FOR_A_MOMENT, pattern)


def _restarted(also: str | None, fault: str, words: str) -> Variant:
    cut = ((0, "controller!cut", True), (RESTART_MS, "controller!cut", False))
    pattern = ((0, also, True), *cut) if also is not None else cut
    return Variant(also or "controller!cut", "controller", fault, words, FOR_A_MOMENT, pattern)
