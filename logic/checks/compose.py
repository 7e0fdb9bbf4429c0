"""Stories made of what people and the world do: taps, held buttons, bounces, cuts, one fault.

A story is a row of flurries with waits between them. A flurry is a few moves in quick
succession; a wait is often one of the times that something in the program waits for, a scan
more or less. Every choice comes from `Draws`, whose 0 is the simplest.
"""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.logic.checks.draws import Draws, chance, pick, some
from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Event, Knob, Story
from rungproof.logic.meaning.typed import Scalar

#: A story with more events than this is hard to read and no better at finding things.
MOST_EVENTS = 160

#: One button is tapped so often in a row at the most, for what counts.
MOST_TAPS = 60


@dataclass(frozen=True, slots=True)
class Shape:
    """What is asked of a story: its length (ms), the one fault in it, whether the outputs are free."""

    length_ms: int
    fault: str | None = None
    free: bool = False


def compose(profile: Profile, draws: Draws, shape: Shape) -> Story:
    """A fresh story of the given shape."""
    composer = Composer(profile, draws, shape)
    composer.begin()
    composer.go_on()
    return composer.story()


class Composer:
    """A story in the making: the events so far, the time reached, how the switches stand."""

    def __init__(self, profile: Profile, draws: Draws, shape: Shape) -> None:
        self.profile, self.draws, self.shape = profile, draws, shape
        self.events: list[Event] = []
        self.now = 0
        self.state: dict[str, bool] = {key: bool(profile.knobs[key].start) for key in profile.switches}
        self.parameters: tuple[tuple[str, Scalar], ...] = ()
        self.scans: tuple[int, ...] = ()
        self.lane = 0
        self.orderly = not chance(draws, 1, 2)
        self.busy = chance(draws, 1, 4)
        # A breach of an assumption ends the run: worth trying, but not often.
        self.breaching = not self.orderly and chance(draws, 1, 8)
        self.times = profile.times_up_to(max(profile.step, shape.length_ms * 2 // 3))
        self.focus = list(profile.switches)
        if not chance(draws, 1, 3) and len(self.focus) > 2:
            self.focus = some(draws, self.focus, 4)

    def begin(self) -> None:
        """How everything stands at the first scan."""
        profile, draws = self.profile, self.draws
        turned = pick(draws, (0, 1, 1, 2, 4))
        for key in profile.switches:
            held = profile.rest[key] != (turned > 0 and chance(draws, turned, 8))
            self._switch(key, held)
        for key in profile.numbers:
            if chance(draws, 1, 2):
                self._add(self.now, key, self._value(key))
        self.free_outputs()
        self.parameters = tuple((key, self._value(key)) for key in profile.parameters if chance(draws, 1, 2))
        self.scans = self._scans()
        self.lane = draws.below(1000) if profile.noisy else 0

    def free_outputs(self) -> None:
        """From the start on every terminal is the story's, where the shape says so."""
        if self.shape.free:
            for key in self.profile.frees:
                self._add(0, key, self._value(key))

    def go_on(self) -> None:
        """Flurries and waits until the story is full."""
        if self.shape.fault is not None:
            self._one_fault(self.shape.fault)
        quiet = self.shape.length_ms if chance(self.draws, 1, 3) else self.shape.length_ms * 3 // 4
        if chance(self.draws, 1, 2):
            self._wait()
        while self.now < quiet and len(self.events) < MOST_EVENTS:
            for _ in range(1 + self.draws.below(24 if self.busy else 6)):
                self._move()
                self.now += self._gap()
                if self.now >= quiet or len(self.events) >= MOST_EVENTS:
                    break
            self._wait()

    def hands_off(self) -> None:
        """From now on people leave everything alone; the world goes on."""
        self.focus, self.orderly, self.busy, self.breaching = [], True, False, False

    def story(self) -> Story:
        length = self.shape.length_ms
        events = sorted((e for e in self.events if e.at_ms < length), key=lambda e: e.at_ms)
        return Story(length, tuple(events), self.parameters, self.scans, 0, self.lane)

    # ------------------------------------------------------------------- moves

    def _move(self) -> None:
        profile, draws = self.profile, self.draws
        moves = []
        if self.focus:
            moves += [self._tap, self._tap, self._tap, self._flip]
            if not self.orderly:
                moves += [self._flip, self._bounce, self._together, self._repeat, self._back_to_rest]
            if len(self.focus) > 1:
                moves += [self._cycle]
        if profile.numbers:
            moves += [self._number]
        if self.shape.free and profile.frees:
            moves += [self._free, self._free]
        if not self.orderly or not moves:
            moves += [self._cut] if profile.powers else []
        if moves:
            pick(draws, moves)()

    def _tap(self) -> None:
        key = pick(self.draws, self.focus)
        self._tap_for(key, self._stretch())

    def _flip(self) -> None:
        key = pick(self.draws, self.focus)
        self._switch(key, not self.state[key])

    def _bounce(self) -> None:
        self._repeat_tap(pick(self.draws, self.focus), 2 + self.draws.below(3), self.profile.scan[0])

    def _repeat(self) -> None:
        counts = [n for n in self.profile.counts if n <= MOST_TAPS] or [3]
        times = max(1, pick(self.draws, counts) + self.draws.below(3) - 1)
        self._repeat_tap(pick(self.draws, self.focus), times, self.profile.scan[1] * (1 + self.draws.below(2)))

    def _cycle(self) -> None:
        """Two in turn, over and over, as fast as scans go: what begins something and what ends it."""
        first = pick(self.draws, self.focus)
        second = pick(self.draws, [key for key in self.focus if key != first])
        counts = [n for n in self.profile.counts if n < MOST_EVENTS // 8] or [2]
        pace = self.profile.scan[1] * (2 + self.draws.below(3))
        for _ in range(pick(self.draws, counts) + 1 + self.draws.below(2)):
            for key in (first, second):
                self._tap_for(key, self.profile.scan[1])
                self.now += pace

    def _repeat_tap(self, key: str, times: int, scan: int) -> None:
        for _ in range(times):
            self._tap_for(key, scan)
            self.now += 2 * scan

    def _together(self) -> None:
        """Two or more at the same instant, let go at the same instant or one by one."""
        keys = self.focus if chance(self.draws, 1, 4) else some(self.draws, self.focus, 3)
        stretch = self._stretch()
        for place, key in enumerate(keys):
            late = place * self.profile.scan[0] if chance(self.draws, 1, 3) else 0
            self._tap_for(key, stretch + late)

    def _back_to_rest(self) -> None:
        for key in self.profile.switches:
            self._switch(key, self.profile.rest[key])

    def _number(self) -> None:
        key = pick(self.draws, self.profile.numbers)
        self._add(self.now, key, self._value(key))

    def _free(self) -> None:
        key = pick(self.draws, self.profile.frees)
        self._add(self.now, key, self._value(key))

    def _cut(self) -> None:
        self._interrupt(pick(self.draws, self.profile.powers))

    def _interrupt(self, key: str) -> None:
        """Never before the first scan has ended: see `stories.is_proper`."""
        at = max(self.now, 2 * self.profile.scan[1])
        self._add(at, key, True)
        self._add(at + self._stretch(), key, False)

    def _one_fault(self, key: str) -> None:
        """The fault comes at any time, often before the first scan, and mostly stays."""
        if any(event.key == key for event in self.events):
            return
        if key in self.profile.stops:
            self._interrupt(key)
            return
        at = 0 if chance(self.draws, 1, 4) else self._on_grid(self.draws.below(max(1, self.shape.length_ms * 3 // 4)))
        at = max(at, self.now if at else 0)
        self._add(at, key, True)
        if chance(self.draws, 1, 4):
            self._add(at + self._stretch(), key, False)

    # --------------------------------------------------------- times and values

    def _gap(self) -> int:
        scan = self.profile.scan[self.draws.below(2)]
        return scan * pick(self.draws, (1, 0, 2, 1, 3, 5, 2, 10))

    def _stretch(self) -> int:
        """How long something is held: about a scan, or about a time that something waits for."""
        kind = self.draws.below(8)
        if kind < 5 or not self.times:
            scan = self.profile.scan[self.draws.below(2)]
            stretch = pick(self.draws, (1, 2, 3, 10)) * scan - pick(self.draws, (0, 0, self.profile.step))
        else:
            stretch = pick(self.draws, self.times) + (self.draws.below(3) - 1) * self.profile.scan[1]
        return max(self.profile.step, self._on_grid(stretch))

    def _wait(self) -> None:
        left = max(1, self.shape.length_ms - self.now)
        kind = self.draws.below(4)
        if kind == 3 or not self.times:
            wait = self.draws.below(left)
        else:
            wait = pick(self.draws, self.times if kind == 0 else self.times[-2:]) + self.profile.scan[1] * (
                self.draws.below(4) - 1
            )
        self.now += max(self.profile.step, self._on_grid(wait))

    def _on_grid(self, ms: int) -> int:
        return ms - ms % self.profile.step

    def _value(self, key: str) -> Scalar:
        """Mostly a value worth trying, else any of the range (finer steps than any channel has)."""
        knob, worth = self.profile.knobs[key], self.profile.values[key]
        if self.breaching and knob.type != "bool" and chance(self.draws, 1, 2):
            return pick(self.draws, (knob.low, knob.high))
        if knob.type == "bool" or chance(self.draws, 5, 8):
            return pick(self.draws, worth)
        if self.breaching:
            return any_value(self.draws, knob, knob.low, knob.high)
        return any_value(self.draws, knob, *self.profile.assumed[key])

    def _scans(self) -> tuple[int, ...]:
        low, high = self.profile.scan
        if low == high:
            return ()
        tick = self.profile.tick
        ticks = (high - low) // tick
        match self.draws.below(5):
            case 0:
                return (low,)
            case 1:
                return (high,)
            case 2:
                return (low, high) * 20
            case 3:
                return (high, low) * 20
            case _:
                return tuple(low + tick * self.draws.below(ticks + 1) for _ in range(20))

    # ------------------------------------------------------------------- events

    def _add(self, at: int, key: str, value: Scalar) -> None:
        self.events.append(Event(at, key, value))

    def _switch(self, key: str, value: bool) -> None:
        self.state[key] = value
        self._add(self.now, key, value)

    def _tap_for(self, key: str, stretch: int) -> None:
        self._add(self.now, key, not self.state[key])
        self._add(self.now + stretch, key, self.state[key])


def any_value(draws: Draws, knob: Knob, low: int | float, high: int | float) -> Scalar:
    """Any value of a number's range `low..high`."""
    if knob.type == "int":
        return int(low) + draws.below(int(high) - int(low) + 1)
    steps = 1 << 20
    return low + (high - low) * (draws.below(steps + 1) / steps)
