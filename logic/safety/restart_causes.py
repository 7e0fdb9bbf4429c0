"""What stops a machine and then goes away: power, stops, guards, modes, faults, and how people behave meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.words import rounded
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.safety.restart_bases import PRESS_MS, Base, buttons_of, standing
from rungproof.logic.safety.switching import SWITCHGEAR

Group = Literal[
    "power return",
    "controller stop",
    "emergency stop release",
    "stop or guard back",
    "mode change",
    "parameter change",
    "process back",
    "fault clearing",
]

#: How the start buttons fare: let go before the cause, held throughout (a jammed or taped button), pressed and
#: held while the cause stands.
Hands = Literal["let go", "held throughout", "pressed meanwhile and held"]

#: How long the machine is watched after a cause has gone, and after the resets (ms).
WATCH_MS, RESET_MS = 4000, 2500

#: A cause lasts so long at least (ms), and as long as the longest time the program waits for, up to this.
LEAST_MS, MOST_MS = 1000, 31_000

#: A dip of a supply (ms).
DIP_MS = 60


@dataclass(frozen=True, slots=True)
class Cause:
    """Knobs that go to `there` and come back to what they were. `words` names it in a row."""

    group: Group
    words: str
    there: tuple[tuple[str, Scalar], ...]
    lasts_ms: int


@dataclass(frozen=True, slots=True)
class Trial:
    """One story to run: a base, a cause, what the hands do; when the cause goes and when resets are pressed."""

    base: Base
    cause: Cause
    hands: Hands
    story: Story
    begins_ms: int
    gone_ms: int
    reset_ms: int

    @property
    def quiet(self) -> bool:
        """Whether it ends with the machine stopped by somebody, power and everything else being there."""
        return self.hands == "let go" and self.cause.group in ("stop or guard back", "emergency stop release")


def causes_of(program: Program, base: Base) -> Iterator[Cause]:
    """All causes, the ones everybody thinks of first."""
    profile = profile_of(program)
    lasts = max(LEAST_MS, max((t for t in profile.times if t <= MOST_MS - 1000), default=0) + 1000)
    kinds = {part.name: part.kind for part in program.plant.assembly.parts} if program.plant else {}
    now = standing(program, base.story.events)
    for length, how in ((LEAST_MS, ""), (DIP_MS, ", a dip")):
        for key in profile.powers:
            yield Cause("power return", f"{key.partition('!')[0]}{how}", ((key, True),), length)
    supplies = tuple((key, True) for key in profile.powers if not key.startswith("controller"))
    if len(supplies) > 1:
        yield Cause("power return", "all supplies", supplies, LEAST_MS)
    for key in profile.stops:
        yield Cause("controller stop", "controller stopped and resumed", ((key, True),), LEAST_MS)
    for key in profile.switches:
        if key in base.starts:
            continue
        knob, part = program.knobs[key], key.partition(".")[0]
        other = ((key, not now[key]),)
        if kinds.get(part) == "emergency_stop" or (not kinds and "estop" in key.lower()):
            yield Cause("emergency stop release", part, other, lasts)
        elif kinds.get(part) in ("breaker",):
            yield Cause("power return", f"{part}, switched off and on", other, LEAST_MS)
        elif knob.kind == "disturbance":
            yield Cause("process back", key, other, lasts)
        elif kinds.get(part) in ("selector", "key_switch"):
            yield Cause("mode change", key, other, LEAST_MS)
        elif kinds or profile.rest[key]:
            yield Cause("stop or guard back", part if kinds else key, other, lasts)
    for key in profile.numbers:
        knob = program.knobs[key]
        for value in (knob.low, knob.high):
            if value != now[key]:
                turned = kinds.get(key.partition(".")[0]) in ("selector", "key_switch", "dial")
                yield Cause(
                    "mode change" if turned else "process back", f"{key} to {rounded(value)}", ((key, value),), lasts
                )
    own = tuple(f"{start.partition('.')[0]}!" for start in base.starts)
    for key in profile.faults:
        if program.knobs[key].kind == "fault" and not key.startswith(own) and not key.endswith(_MISTAKES):
            yield Cause("fault clearing", key.replace("!", " "), ((key, True),), min(lasts, 6000))


def trials_of(program: Program, base: Base, cause: Cause) -> Iterator[Trial]:
    """The cause with each way in which hands can behave."""
    hands: tuple[Hands, ...] = (
        ("let go", "held throughout", "pressed meanwhile and held") if base.starts else ("let go",)
    )
    if cause.group == "fault clearing":
        hands = hands[:2]
    for each in hands:
        yield _trial(program, base, cause, each)


def _trial(program: Program, base: Base, cause: Cause, hands: Hands) -> Trial:
    step = profile_of(program).step
    begins = _up(base.until_ms, step)
    gone = _up(begins + cause.lasts_ms, step)
    now = standing(program, base.story.events)
    buttons = buttons_of(program, profile_of(program))
    events = [e for e in base.story.events if not (hands == "held throughout" and e.key in base.starts and not e.value)]
    if hands != "held throughout":
        events += [Event(begins, key, False) for key in base.starts if now[key] is True and key in buttons]
    if hands == "pressed meanwhile and held":
        middle = _up((begins + gone) // 2, step)
        events += [Event(middle, key, True) for key in base.starts]
    for key, value in cause.there:
        events += [Event(begins, key, value), Event(gone, key, now[key])]
    reset = gone + WATCH_MS
    at = reset
    for key in buttons:
        if key not in base.starts and key not in dict(cause.there):
            events += [Event(at, key, True), Event(at + PRESS_MS, key, False)]
            at += 2 * PRESS_MS
    ordered = tuple(sorted(events, key=lambda event: event.at_ms))
    story = replace(base.story, events=ordered, duration_ms=at + RESET_MS)
    return Trial(base, cause, hands, story, begins, gone, reset)


#: How a wire at an output can come off and be on again.
_OFF = frozenset({"wire_broken", "broken_at_part", "shorted_to_zero", "stays_off"})

#: How a wire at an output, or its card, can drive what hangs there.
_ON = frozenset({"shorted_to_supply", "stays_on"})

#: Mistakes of wiring, which do not come and go.
_MISTAKES = ("swapped_with_next",)


def is_loose_contact(program: Program, words: str) -> bool:
    """Whether a cause is a relay's or contactor's contact or coil, or an output's wire, that opens and closes again.

    What hangs behind it comes and goes with it while it is asked for: nobody's start, and nothing
    that rungs could see.
    """
    kinds = {part.name: part.kind for part in program.plant.assembly.parts} if program.plant else {}
    place, _, fault = words.partition(" ")
    outputs = {wire.terminal for wire in program.plant.outputs} if program.plant else set()
    if fault in _OFF and place in outputs:
        return True
    return fault in ("stays_open", "coil_open") and kinds.get(place.partition(".")[0]) in SWITCHGEAR


def drives_by_itself(program: Program, words: str) -> bool:
    """Whether a cause is a fault that feeds what hangs at an output, asked for or not: a short, a card that stays on.

    What moves while such a fault stands was started by the fault, not by its going; the table of faults judges it.
    """
    place, _, fault = words.partition(" ")
    return fault in _ON and program.plant is not None and place in {wire.terminal for wire in program.plant.outputs}


def _up(ms: int, step: int) -> int:
    """To the grid of events."""
    return -(-ms // step) * step
