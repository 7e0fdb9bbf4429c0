"""A key switch that a story turns while its key is out: nothing happens, and the story would not say so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import Event
from rungproof.logic.meaning.typed import Scalar
from rungproof.plant.key_switch import KeySwitch
from rungproof.plant.part import Part

#: What lets a key switch be turned: its key, or a lock that is worn.
_FREES = (".key_in", "!turns_without_key")


def check_keys(parts: Iterable[Part], events: Sequence[tuple[Event, Span]], reporter: Reporter) -> None:
    """Report every `set NAME.turned_to` that no key lets through until the next one. `events` in any order."""
    for part in parts:
        if isinstance(part, KeySwitch):
            own = [each for each in events if each[0].key.partition("!")[0].partition(".")[0] == part.name]
            _check(part.name, sorted(own, key=lambda each: each[0].at_ms), reporter)


def _check(name: str, events: Sequence[tuple[Event, Span]], reporter: Reporter) -> None:
    """What happens at one instant happens together, as in a run."""
    position: Scalar = 1
    free = dict.fromkeys(_FREES, False)
    waiting: tuple[Scalar, Span] | None = None
    for _, group in groupby(events, key=lambda each: each[0].at_ms):
        turned: tuple[Scalar, Span] | None = None
        for event, span in group:
            what = event.key.removeprefix(name)
            if what in free:
                free[what] = bool(event.value)
            elif what == ".turned_to":
                turned = event.value, span
        if turned is not None:
            if waiting is not None:
                _report(name, waiting[1], reporter)
            waiting = turned if turned[0] != position else None
        if waiting is not None and any(free.values()):
            position, waiting = waiting[0], None
    if waiting is not None:
        _report(name, waiting[1], reporter)


def _report(name: str, span: Span, reporter: Reporter) -> None:
    reporter.report("turned-without-key", span, name=name)
