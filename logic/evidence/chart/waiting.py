"""What a requirement was waiting for: the stretches in which something was owed, and what.

Works beside the monitors, on the same instants and with the same rules
(`rungproof.logic.engines.monitors`), and keeps what they throw away: since when, and for what.
The words are the file's own, so that a reader finds them in the requirement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from rungproof.grammar import CATALOGUE, Reporter, parse_text, tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.words import time_words
from rungproof.logic.engines.observer import Contacts
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.evidence.chart.strip import Ended, Wait
from rungproof.logic.meaning import program as meaning
from rungproof.logic.meaning.program import Program, Requirement

#: Of stretches that ended well, the latest that are kept.
MOST_MET = 6


@dataclass(slots=True)
class Waiting:
    """Watches requirements over a run as an engine's observer, and keeps their waits.

    `at_end` closes what is still open; `waits` are then all of them, in order of time.
    """

    watched: list[_Watch]

    @classmethod
    def of(cls, program: Program, names: Iterable[str]) -> Waiting:
        chosen = set(names)
        forms = forms_of(program)
        return cls([_Watch(r, forms.get(r.name)) for r in program.requirements if r.name in chosen])

    def instant(self, t: int, moment: Moment, at_scan: bool) -> None:
        for watch in self.watched:
            if at_scan or watch.requirement.instants == "tick":
                watch.look(t, moment)

    def scan(self, t: int, contacts: Contacts, conducting: Mapping[str, tuple[bool, ...]]) -> None:
        """Nothing to see here."""

    def circuits(self, t: int, contacts: Contacts) -> None:
        """Nothing to see here."""

    def waits(self) -> tuple[Wait, ...]:
        return tuple(wait for watch in self.watched for wait in watch.kept())


def forms_of(program: Program) -> dict[str, tree.Form]:
    """The requirements' forms as the files say them, by name."""
    silent = Reporter(CATALOGUE)
    blocks = [block for source in program.sources for block in parse_text(source.text, source.path, silent).blocks]
    return {block.name: block.form for block in blocks if isinstance(block, tree.Requirement)}


@dataclass(slots=True)
class _Watch:
    """One requirement. `since` is when what is owed now began to be, `words` what it is."""

    requirement: Requirement
    said: tree.Form | None
    memory: dict[str, Any] = field(default_factory=dict)
    since: int | None = None
    words: str = ""
    until: int = -1
    seen: bool = False
    violated: bool = False
    last: int = 0
    times: list[int] = field(default_factory=list)
    met: list[Wait] = field(default_factory=list)
    ended: list[Wait] = field(default_factory=list)

    def look(self, t: int, moment: Moment) -> None:
        if self.violated:
            return
        moment.memory = self.memory
        start = self.requirement.from_time
        if start is not None and t < int(evaluate(start, moment)):
            return
        _LOOK[type(self.requirement.form)](self, self.requirement.form, t, moment)
        self.last = t

    def says(self, part: str) -> str:
        """A part of the form in the file's words."""
        node = getattr(self.said, part, None)
        return to_text(node) if node is not None else part

    def begin(self, t: int, words: str) -> None:
        if self.since is None:
            self.since, self.words = t, words

    def end(self, t: int, how: Ended) -> None:
        if self.since is not None:
            wait = Wait(self.requirement.name, self.since, t, self.words, how)
            (self.met if how == "met" else self.ended).append(wait)
            self.since = None
        self.violated = self.violated or how == "violated"

    def kept(self) -> list[Wait]:
        self.end(self.last, "open")
        return sorted([*self.met[-MOST_MET:], *self.ended], key=lambda wait: (wait.start_ms, wait.end_ms))


def _at_an_instant(watch: _Watch, form: Any, t: int, moment: Moment) -> None:
    """`never`, `always`: nothing is waited for. Their edges keep their memory all the same."""
    evaluate(form.condition, moment)


def _whenever(watch: _Watch, form: meaning.Whenever, t: int, moment: Moment) -> None:
    trigger, response = evaluate(form.trigger, moment), evaluate(form.response, moment)
    time = 0 if form.time is None else int(evaluate(form.time, moment))
    response_words = watch.says("response")
    if form.mode == "within":
        late = watch.since is not None and t - watch.since > time
        if late:
            watch.end(t, "violated")
        elif response:
            watch.end(t, "met")
        elif trigger:
            watch.begin(t, f"{response_words} within {time_words(time)} of {watch.says('trigger')}")
    elif form.mode == "for":
        if trigger:
            watch.begin(t, f"{response_words} for {time_words(time)} from {watch.says('trigger')}")
            watch.until = t + time
        if watch.since is not None and not response and t <= watch.until:
            watch.end(t, "violated")
        elif watch.since is not None and t >= watch.until:
            watch.end(t, "met")
    elif trigger and not response:
        watch.begin(t, f"{response_words} as soon as {watch.says('trigger')}")
        watch.end(t, "violated")


def _stood(watch: _Watch, form: meaning.Stood, t: int, moment: Moment) -> None:
    trigger, response = evaluate(form.trigger, moment), evaluate(form.response, moment)
    time = int(evaluate(form.time, moment))
    if not trigger:
        watch.end(t, "met")
        return
    since = f"{watch.says('trigger')} stands; after {time_words(time)} {watch.says('response')} is due"
    watch.begin(t, since)
    if watch.since is not None and t - watch.since >= time and not response:
        watch.end(t, "violated")


def _after_never(watch: _Watch, form: meaning.AfterNever, t: int, moment: Moment) -> None:
    trigger = evaluate(form.trigger, moment)
    forbidden, release = evaluate(form.forbidden, moment), evaluate(form.release, moment)
    if trigger and not release:
        words = f"{watch.says('trigger')} came: no {watch.says('forbidden')} until {watch.says('release')}"
        watch.begin(t, words)
    if release:
        watch.end(t, "met")
    elif watch.since is not None and forbidden:
        watch.end(t, "violated")


def _at_most(watch: _Watch, form: meaning.AtMost, t: int, moment: Moment) -> None:
    event, time = evaluate(form.event, moment), int(evaluate(form.time, moment))
    if not event:
        return
    watch.times = [each for each in watch.times if each > t - time] + [t]
    if len(watch.times) > form.count:
        words = f"{watch.says('event')} for the {_ordinal(len(watch.times))} time in {time_words(time)}"
        watch.begin(watch.times[0], f"{words}; {form.count} allowed")
        watch.end(t, "violated")


def _before(watch: _Watch, form: meaning.Before, t: int, moment: Moment) -> None:
    first, then = evaluate(form.first, moment), evaluate(form.then, moment)
    if watch.seen:
        return
    watch.begin(t, f"{watch.says('first')} must come before {watch.says('then')}")
    watch.seen = bool(first)
    if watch.seen:
        watch.end(t, "met")
    elif then:
        watch.end(t, "violated")


def _ordinal(number: int) -> str:
    tail = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{tail}"


_LOOK: dict[type, Callable[[_Watch, Any, int, Moment], None]] = {
    meaning.Never: _at_an_instant,
    meaning.Always: _at_an_instant,
    meaning.Whenever: _whenever,
    meaning.Stood: _stood,
    meaning.AfterNever: _after_never,
    meaning.AtMost: _at_most,
    meaning.Before: _before,
}
