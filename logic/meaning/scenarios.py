"""Scenarios: lines of a story, each checked against what the project has, as events in time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import gcd

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Block, Span
from rungproof.logic.meaning.expressions import type_contact
from rungproof.logic.meaning.machine_times import whole_ms
from rungproof.logic.meaning.program import Event, Expectation, Knob, Scenario, Story
from rungproof.logic.meaning.restate import Restater
from rungproof.logic.meaning.scenarios_keys import check_keys
from rungproof.logic.meaning.scenarios_targets import Stage, knob_for, literal_for
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.typed import Scalar

#: How long a story goes on after its last event where nothing says so (ms).
_TAIL = 1000


@dataclass(slots=True)
class _Draft:
    """A scenario being read. `sound` is false once a line of it was at fault."""

    block: tree.Scenario
    events: list[tuple[Event, Span]] = field(default_factory=list)
    parameters: dict[str, tuple[Span, Scalar]] = field(default_factory=dict)
    scans: tuple[int, ...] = ()
    seed: int = 0
    lane: int = 0
    ends: int | None = None
    last: int = 0
    before: tree.Number | None = None  # the time on the line of an event last read
    before_ms: int = 0
    expects: list[tree.Expect] = field(default_factory=list)
    above: list[int] = field(default_factory=list)  # for each of them, the last event so far (ms)
    said: dict[str, Span] = field(default_factory=dict)
    sound: bool = True


@dataclass(slots=True)
class Teller:
    """Reads scenarios. `tick` is the plant's in ms, 1 without a plant; `scan` the range of scan
    times, None where it is not known."""

    stage: Stage
    scan: tuple[int, int] | None
    tick: int
    scope: Scope
    restater: Restater
    reporter: Reporter
    off_tick: list[tuple[Span, int, str]] = field(default_factory=list)
    times: list[int] = field(default_factory=list)

    def scenarios(self, blocks: Iterable[Block]) -> list[Scenario]:
        """The scenarios that could be read whole."""
        read = [self._scenario(b) for b in blocks if isinstance(b, tree.Scenario)]
        self._report_ticks()
        return [scenario for scenario in read if scenario is not None]

    def _scenario(self, block: tree.Scenario) -> Scenario | None:
        draft = _Draft(block)
        for line in block.lines:
            self._line(line, draft)
        expectations = self._expectations(draft)
        if expectations is None or not draft.sound:
            return None
        duration = self._duration(draft)
        if not expectations and draft.ends is None:
            self.reporter.report("scenario-expects-nothing", block.span)
        if self.stage.machine is not None:
            check_keys(self.stage.machine.parts.values(), draft.events, self.reporter)
        events = sorted((event for event, _ in draft.events), key=lambda event: event.at_ms)
        parameters = tuple((name, value) for name, (_, value) in draft.parameters.items())
        story = Story(duration, tuple(events), parameters, draft.scans, draft.seed, draft.lane)
        return Scenario(block.sentence, story, tuple(expectations), block.span)

    def _line(self, line: object, draft: _Draft) -> None:
        match line:
            case tree.At():
                self._at(line, draft)
            case tree.ParameterLine():
                self._parameter(line, draft)
            case tree.ScansLine():
                self._once("scans", line.span, draft)
                self._scans(line, draft)
            case tree.NoiseLine():
                self._once("noise", line.span, draft)
                draft.seed, draft.lane = line.seed, line.lane
            case tree.EndsLine():
                self._once("ends at", line.span, draft)
                draft.ends = self._time(line.time, draft, told="the scenario ends at {later} ms")
            case tree.Expect():
                draft.expects.append(line)
                draft.above.append(draft.last)

    def _once(self, word: str, span: Span, draft: _Draft) -> None:
        first = draft.said.setdefault(word, span)
        if first is not span:
            self._fault("scenario-said-twice", span, draft, word=word, related=((first, "said here first"),))

    def _fault(
        self,
        code: str,
        span: Span,
        draft: _Draft,
        *,
        related: tuple[tuple[Span, str], ...] = (),
        mend: str | None = None,
        **fields: object,
    ) -> None:
        self.reporter.report(code, span, related=related, mend=mend, **fields)
        draft.sound = False

    def _time(
        self, number: tree.Number, draft: _Draft, *, least: int = 0, told: str = "this happens at {later} ms"
    ) -> int | None:
        time = whole_ms(number, self.reporter, least=least)
        if time is None:
            draft.sound = False
        elif time % self.tick:
            self.off_tick.append((number.span, time, told))
        if time:
            self.times.append(time)
        return time

    def _report_ticks(self) -> None:
        """Once, however many lines there are: several times that are off are one tick that does not fit them."""
        if not self.off_tick or (self.stage.machine is not None and self.stage.machine.off_tick):
            return
        if self.scan is not None and any(each % self.tick for each in self.scan):
            return  # the scan does not fit either: then it is the tick, and that is said there
        span, time, told = self.off_tick[0]
        earlier = time // self.tick * self.tick
        later, lines = earlier + self.tick, len({(each.file, each.line) for each, _, _ in self.off_tick})
        happens = told.format(earlier=earlier, later=later)
        others, mend = "", None
        if len(self.off_tick) > 1:
            where = f"in {lines} lines" if lines > 1 else "on this line"
            others = f"; {len(self.off_tick)} times, {where}, lie between its ticks"
            mend = f"give the plant a tick of {gcd(*self.times)} ms, or write whole multiples of {self.tick} ms"
        self.reporter.report(
            "time-off-tick", span, tick=self.tick, happens=happens, later=later, others=others, mend=mend
        )

    # ---------------------------------------------------------------- events

    def _at(self, line: tree.At, draft: _Draft) -> None:
        at = self._time(line.time, draft)
        lasting = None
        if line.duration is not None:
            lasting = self._time(line.duration, draft, least=1, told="this lasts {later} ms")
        knob = knob_for(line, self.stage, self.reporter)
        if knob is None or at is None or (line.duration is not None and lasting is None):
            draft.sound = False
            return
        self._in_order(line, at, draft)
        draft.last = max(draft.last, at)
        if line.action == "set":
            value = self._value(line.argument, knob, draft)
            if value is not None:
                draft.events.append((Event(at, knob.key, value), line.span))
            return
        begins = line.action in ("press", "fault", "cut", "stop")
        draft.events.append((Event(at, knob.key, begins), line.span))
        if lasting is not None:
            draft.events.append((Event(at + lasting, knob.key, False), line.span))
            if knob.key == "controller!cut":
                self._seen(line, at, lasting)

    def _in_order(self, line: tree.At, at: int, draft: _Draft) -> None:
        """Events are told in order of time, however they are written: where the text goes back, a time may be wrong."""
        if draft.before is not None and at < draft.before_ms:
            related = ((draft.before.span, "the line above"),)
            self.reporter.report("time-goes-back", line.time.span, at=at, before=draft.before_ms, related=related)
        draft.before, draft.before_ms = line.time, at

    def _value(self, argument: tree.Expression | tree.Word | None, knob: Knob, draft: _Draft) -> Scalar | None:
        if argument is None or isinstance(argument, tree.Word):
            raise TypeError(f"`set` stands with a value, not with {argument!r}")
        value = literal_for(argument, knob, self.reporter)
        if value is None:
            draft.sound = False
        return value

    def _seen(self, line: tree.At, at: int, lasting: int) -> None:
        """Power is sampled where scans begin and end: a cut between two samples does nothing."""
        if self.scan is None:
            return
        shortest, scan = self.scan
        fixed = shortest == scan
        sampled = -(-at // scan) * scan < at + lasting if fixed else lasting >= scan
        if not sampled:
            self.reporter.report("cut-unseen", line.span, lasting=lasting, scan=scan)

    # ------------------------------------------------- what the story fixes

    def _parameter(self, line: tree.ParameterLine, draft: _Draft) -> None:
        name = line.tag.text
        knob = self.stage.parameter(line.tag, self.reporter)
        if knob is None:
            draft.sound = False
            return
        if name in draft.parameters:
            related = ((draft.parameters[name][0], "said here first"),)
            self._fault("scenario-said-twice", line.span, draft, word=f"parameter {name}", related=related)
            return
        value = self._value(line.value, knob, draft)
        if value is not None:
            draft.parameters[name] = (line.span, value)

    def _scans(self, line: tree.ScansLine, draft: _Draft) -> None:
        if not self.stage.has_controller:
            self._fault("scans-without-controller", line.span, draft)
        if self.scan is None:
            return
        low, high = self.scan
        lengths = []
        for number in line.lengths:
            length = self._time(number, draft, least=1, told="this scan lasts {later} ms")
            if length is not None and not low <= length <= high:
                declared = f"{low} ms" if low == high else f"{low}..{high} ms"
                self._fault("scan-outside-range", number.span, draft, length=length, declared=declared)
            lengths.append(length or low)
        draft.scans = tuple(lengths)

    # ----------------------------------------------------------- expectations

    def _expectations(self, draft: _Draft) -> list[Expectation] | None:
        found = []
        for index, line in enumerate(draft.expects):
            context = Context(self.scope, self.reporter, Slots(f'scenario "{draft.block.sentence}" {index}'))
            condition = type_contact(line.condition, context)
            watched = "this is watched at its ticks, the last {earlier} ms on"
            time = self._time(line.time, draft, least=1, told=watched) if line.time is not None else 0
            if condition is None or time is None:
                draft.sound = False
                continue
            if line.time is not None and draft.above[index] < draft.last:
                self.reporter.report("expect-counts-later", line.span, above=draft.above[index], last=draft.last)
            restatement = self.restater.expectation(line)
            found.append(Expectation(condition, restatement, line.mode, draft.last, time, line.span))
        return found if draft.sound else None

    def _duration(self, draft: _Draft) -> int:
        """`ends at`, else the last event and the longest expectation, else a second more."""
        happens = max([draft.last, *(event.at_ms for event, _ in draft.events)])
        lengths = [whole_ms(e.time, self.reporter) or 0 for e in draft.expects if e.time is not None]
        needed = draft.last + max(lengths, default=0)
        if draft.ends is None:
            return max(needed, happens) if lengths else happens + _TAIL
        span = draft.said["ends at"]
        if draft.ends < draft.last:
            self.reporter.report("ends-before-event", span, ends=draft.ends, last=draft.last)
        elif draft.ends < needed:
            self.reporter.report("ends-before-expectation", span, ends=draft.ends, needed=needed)
        return draft.ends


def check_names(blocks: Iterable[Block], reporter: Reporter) -> None:
    """`run --scenario NAME` needs names that differ."""
    seen: dict[str, Span] = {}
    for block in blocks:
        if isinstance(block, tree.Scenario):
            first = seen.setdefault(block.sentence, block.span)
            if first is not block.span:
                related: tuple[tuple[Span, str], ...] = ((first, "the first one"),)
                reporter.report("same-name-twice", block.span, word="scenario", name=block.sentence, related=related)
