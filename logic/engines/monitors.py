"""Monitors: one small class per requirement form, fed the instants of a run one by one.

Times are whole ms since the start of the run. A monitor keeps its memory through power
cycles; nothing is an edge at the first instant it looks at.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Callable
from typing import Any, get_args

from rungproof.logic.engines.contract import Judgement
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.meaning import program
from rungproof.logic.meaning.program import Expectation, Requirement
from rungproof.logic.meaning.typed import Expression


class Form(ABC):
    """What one form does at an instant. `triggered` counts instants, see `Judgement`."""

    triggered = 0

    @abstractmethod
    def violates(self, t: int, moment: Moment) -> bool:
        """Look at instant `t` and say whether it violates."""

    def owes(self, t: int) -> bool:
        """Whether an obligation is open, if `t` was the last instant."""
        return False


class Never(Form):
    """Violated at every instant at which the condition is true."""

    def __init__(self, form: program.Never) -> None:
        self.form = form

    def violates(self, t: int, moment: Moment) -> bool:
        self.triggered += 1
        return bool(evaluate(self.form.condition, moment))


class Always(Form):
    """Violated at every instant at which the condition is false."""

    def __init__(self, form: program.Always) -> None:
        self.form = form

    def violates(self, t: int, moment: Moment) -> bool:
        self.triggered += 1
        return not evaluate(self.form.condition, moment)


class AtOnce(Form):
    """`whenever A then B`: violated where A is true and B is not."""

    def __init__(self, form: program.Whenever) -> None:
        self.form = form

    def violates(self, t: int, moment: Moment) -> bool:
        trigger, response = evaluate(self.form.trigger, moment), evaluate(self.form.response, moment)
        self.triggered += trigger
        return trigger and not response


class Within(Form):
    """`whenever A then B within T`: B at some instant of [t, t + T].

    A response closes every obligation, so the oldest open one decides.
    """

    def __init__(self, form: program.Whenever) -> None:
        self.form = form
        self.open_since: int | None = None

    def violates(self, t: int, moment: Moment) -> bool:
        trigger, response = evaluate(self.form.trigger, moment), evaluate(self.form.response, moment)
        time = _time(self.form.time, moment)
        self.triggered += trigger
        late = self.open_since is not None and t - self.open_since > time
        if response:
            self.open_since = None
        elif trigger and self.open_since is None:
            self.open_since = t
        return late

    def owes(self, t: int) -> bool:
        return self.open_since is not None


class Throughout(Form):
    """`whenever A then B for T`: B at every instant of [t, t + T].

    The obligation of the last trigger ends last, so it alone decides.
    """

    def __init__(self, form: program.Whenever) -> None:
        self.form = form
        self.until = -1

    def violates(self, t: int, moment: Moment) -> bool:
        trigger, response = evaluate(self.form.trigger, moment), evaluate(self.form.response, moment)
        time = _time(self.form.time, moment)
        self.triggered += trigger
        if trigger:
            self.until = t + time
        return t <= self.until and not response

    def owes(self, t: int) -> bool:
        return t < self.until


class Stood(Form):
    """`whenever A has stood for T then B`: an on-delay over the instants; it came where its output is true."""

    def __init__(self, form: program.Stood) -> None:
        self.form = form
        self.since: int | None = None

    def violates(self, t: int, moment: Moment) -> bool:
        trigger, response = evaluate(self.form.trigger, moment), evaluate(self.form.response, moment)
        time = _time(self.form.time, moment)
        if not trigger:
            self.since = None
        elif self.since is None:
            self.since = t
        stood = self.since is not None and t - self.since >= time
        self.triggered += stood
        return stood and not response


class AfterNever(Form):
    """`after A never B until C`: armed = (armed or A) and not C; violated = armed and B."""

    def __init__(self, form: program.AfterNever) -> None:
        self.form = form
        self.armed = False

    def violates(self, t: int, moment: Moment) -> bool:
        trigger, forbidden, release = (
            evaluate(each, moment) for each in (self.form.trigger, self.form.forbidden, self.form.release)
        )
        self.triggered += trigger
        self.armed = (self.armed or trigger) and not release
        return self.armed and forbidden


class AtMost(Form):
    """`at most N A in any T`: N + 1 events in (t - T, t] violate."""

    def __init__(self, form: program.AtMost) -> None:
        self.form = form
        self.events: deque[int] = deque()

    def violates(self, t: int, moment: Moment) -> bool:
        event, time = evaluate(self.form.event, moment), _time(self.form.time, moment)
        self.triggered += event
        if not event:
            return False
        self.events.append(t)
        while self.events[0] <= t - time:
            self.events.popleft()
        return len(self.events) > self.form.count


class Before(Form):
    """`A before B`: every instant of B needs an A at that instant or earlier in the run."""

    def __init__(self, form: program.Before) -> None:
        self.form = form
        self.seen = False

    def violates(self, t: int, moment: Moment) -> bool:
        first, then = evaluate(self.form.first, moment), evaluate(self.form.then, moment)
        self.triggered += then
        self.seen = self.seen or first
        return then and not self.seen


def _time(time: Expression | None, moment: Moment) -> int:
    """A form's time in ms: a number or a parameter."""
    assert time is not None, "meaning gives every timed form its time"
    return int(evaluate(time, moment))


_WHENEVER: dict[str, type[AtOnce] | type[Within] | type[Throughout]] = {
    "at once": AtOnce,
    "within": Within,
    "for": Throughout,
}
_FORMS: dict[type, Callable[[Any], Form]] = {
    program.Never: Never,
    program.Always: Always,
    program.Whenever: lambda form: _WHENEVER[form.mode](form),
    program.Stood: Stood,
    program.AfterNever: AfterNever,
    program.AtMost: AtMost,
    program.Before: Before,
}
assert set(_FORMS) == set(get_args(program.Form)), "there must be a monitor for every form"


class _Looker:
    """Gives the shared moment this looker's own memory: edges belong to who sees them."""

    def __init__(self) -> None:
        self._memory: dict[str, Any] = {}

    def _own(self, moment: Moment) -> Moment:
        moment.memory = self._memory
        return moment


class Monitor(_Looker):
    """Watches one requirement over a run. `from T`: it looks at no instant before T."""

    def __init__(self, requirement: Requirement) -> None:
        super().__init__()
        self.requirement = requirement
        self.violated_at: int | None = None
        self._form = _FORMS[type(requirement.form)](requirement.form)
        self._last = 0

    def look(self, t: int, moment: Moment) -> None:
        """Look at instant `t`; instants come in rising order."""
        from_time = self.requirement.from_time
        if from_time is not None and t < _time(from_time, moment):
            return
        self._last = t
        if self._form.violates(t, self._own(moment)) and self.violated_at is None:
            self.violated_at = t

    def judgement(self) -> Judgement:
        return Judgement(self.violated_at, self._form.triggered, self._form.owes(self._last))


class AssumptionWatch(_Looker):
    """Says whether an assumption holds at an instant."""

    def __init__(self, assumption: program.Assumption) -> None:
        super().__init__()
        self.assumption = assumption

    def holds(self, moment: Moment) -> bool:
        return bool(evaluate(self.assumption.condition, self._own(moment)))


class ExpectationWatch(_Looker):
    """Watches one `expect` of a scenario, at every instant of the run."""

    def __init__(self, expectation: Expectation) -> None:
        super().__init__()
        self.expectation = expectation
        self._last: bool | None = None
        self._seen = False
        self._missed = False
        self._looked_inside = False
        self._over = False

    def look(self, t: int, moment: Moment) -> None:
        expected = self.expectation
        holds = bool(evaluate(expected.condition, self._own(moment)))
        until = expected.from_ms + expected.time_ms
        self._last = holds
        self._over = t >= until
        if expected.from_ms <= t <= until:
            self._looked_inside = True
            self._seen = self._seen or holds
            self._missed = self._missed or not holds

    def met(self, whole: bool, lasted_ms: int) -> bool | None:
        """Whether it was met; None where the run says nothing of it: it ended too early, or had no
        instant inside the time. `whole`: the run was not cut before its duration, `lasted_ms`.

        Where no scan ends any more, because the controller is dark until the end, nothing
        changes: what the last instant showed stands for as long as the run lasts.
        """
        mode, last = self.expectation.mode, self._last
        if mode == "at end":
            return last if whole else None
        seen, missed = self._seen, self._missed
        until = self.expectation.from_ms + self.expectation.time_ms
        stands = whole and not self._over and last is not None and lasted_ms >= until
        if stands:
            seen, missed = seen or bool(last), missed or not last
        if seen if mode == "within" else missed:
            return mode == "within"
        if not stands and not (self._over and self._looked_inside):
            return None
        return mode == "for"
