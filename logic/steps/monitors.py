"""Requirements, assumptions and expectations lowered to monitors.

A monitor is a Step that runs once at every instant it observes. It reads tags, stages and
the plant as they are seen at that instant, and `instant elapsed`: ms since its last instant
(since the start of the run at its first). It drives `NAME/violated` and `NAME/triggered`;
`NAME/open` says, from the state alone, whether an obligation stands.

Times are kept as ages that stop counting at their limit, so that a monitor has finitely
many states.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, get_args

from rungproof.logic.meaning import program
from rungproof.logic.meaning.typed import Expression
from rungproof.logic.steps.expressions import lower
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    constant,
    either,
    inverse,
    least,
    ordered,
    select,
    variable,
)
from rungproof.logic.steps.scope import Leaf, Scope, flat_name
from rungproof.logic.steps.step import InputVariable, Step

INSTANT = "instant elapsed"
ELAPSED = variable(INSTANT, "int")
ZERO, ONE = constant(0), constant(1)

#: A monitor's last instant may lie this far back (ms).
LONGEST = 2**50


@dataclass(frozen=True, slots=True)
class Watched:
    """What a form says at an instant, and whether an obligation stands, from the state alone."""

    violated: Node
    triggered: Node
    open: Node = OFF


@dataclass
class _Monitor:
    """A monitor being lowered: its scope, and whether it looks yet (`from T`)."""

    scope: Scope
    active: Node = ON

    def on(self, expression: Expression) -> Node:
        return lower(expression, self.scope)

    def keep(self, name: str, value: Node, at_rest: Node) -> None:
        """What a memory becomes; a monitor that does not look yet keeps it at rest."""
        self.scope.becomes(name, select(self.active, value, at_rest))


def _seen(leaf: Leaf) -> Node:
    return variable(flat_name(leaf), leaf.type)


def lower_requirement(requirement: program.Requirement) -> Step:
    """The monitor of `requirement`."""
    name = requirement.name
    scope = Scope(_seen, OFF, ELAPSED, f"{name}/")
    monitor = _Monitor(scope)
    _begin(monitor, requirement.from_time)
    watched = _FORMS[type(requirement.form)](requirement.form, monitor)
    outputs = {
        f"{name}/violated": both(monitor.active, watched.violated),
        f"{name}/triggered": both(monitor.active, watched.triggered),
        f"{name}/open": watched.open,
    }
    return _step(scope, outputs)


def lower_condition(name: str, condition: Expression) -> Step:
    """The monitor of an assumption or an expectation: output `NAME/holds` at every instant."""
    scope = Scope(_seen, OFF, ELAPSED, f"{name}/")
    monitor = _Monitor(scope)
    _begin(monitor, None)
    return _step(scope, {f"{name}/holds": monitor.on(condition)})


def _begin(monitor: _Monitor, from_time: Expression | None) -> None:
    """Edges are none at the first instant looked at; `from T` begins to look T after the start."""
    scope = monitor.scope
    ran = scope.remember("ran", "bool", False)
    scope.first = inverse(ran)
    if from_time is not None:
        limit = monitor.on(from_time)
        waited = scope.remember("waited", "int", 0, 0, int(from_time.high))
        now = _aged(waited, limit)
        scope.becomes("waited", now)
        monitor.active = apply("le", limit, now)
    scope.becomes("ran", monitor.active)


def _step(scope: Scope, outputs: dict[str, Node]) -> Step:
    states = dict(scope.states)
    probe = [*scope.next.values(), *outputs.values()]
    inputs: dict[str, InputVariable] = {}
    for node in ordered(probe):
        if node.operator == "variable" and node.name not in states:
            low, high = (0, LONGEST) if node.name == INSTANT else (0, 1) if node.type == "bool" else _ANY
            inputs[node.name] = InputVariable(node.name, node.type, low, high)
    return Step(states, inputs, dict(scope.next), outputs)


_ANY = (-(2**53), 2**53)


def _aged(age: Node, limit: Node) -> Node:
    """An age one instant later, counted up to `limit`."""
    return least(limit, apply("add", age, ELAPSED))


def _past(time: Node) -> Node:
    """One ms more than `time`: an age that stands there has passed it."""
    return apply("add", time, ONE)


# ------------------------------------------------------------------------ forms


def _never(form: program.Never, monitor: _Monitor) -> Watched:
    return Watched(monitor.on(form.condition), ON)


def _always(form: program.Always, monitor: _Monitor) -> Watched:
    return Watched(inverse(monitor.on(form.condition)), ON)


def _whenever(form: program.Whenever, monitor: _Monitor) -> Watched:
    trigger, response = monitor.on(form.trigger), monitor.on(form.response)
    if form.mode == "at once" or form.time is None:
        return Watched(both(trigger, inverse(response)), trigger)
    keep = _within if form.mode == "within" else _throughout
    return keep(trigger, response, monitor.on(form.time), int(form.time.high), monitor)


def _within(trigger: Node, response: Node, time: Node, most: int, monitor: _Monitor) -> Watched:
    """The oldest open obligation decides, because a response closes all."""
    stands = monitor.scope.remember("open", "bool", False)
    age = monitor.scope.remember("age", "int", 0, 0, most + 1)
    grown = _aged(age, _past(time))
    still = both(stands, inverse(response))
    monitor.keep("open", both(either(stands, trigger), inverse(response)), OFF)
    monitor.keep("age", select(still, grown, ZERO), ZERO)
    return Watched(both(stands, apply("lt", time, grown)), trigger, stands)


def _throughout(trigger: Node, response: Node, time: Node, most: int, monitor: _Monitor) -> Watched:
    """The newest obligation decides: it ends last."""
    stands = monitor.scope.remember("open", "bool", False)
    age = monitor.scope.remember("age", "int", 0, 0, most + 1)
    grown = select(trigger, ZERO, _aged(age, _past(time)))
    inside = either(trigger, both(stands, apply("le", grown, time)))
    monitor.keep("open", inside, OFF)
    monitor.keep("age", select(inside, grown, ZERO), ZERO)
    return Watched(both(inside, inverse(response)), trigger, both(stands, apply("lt", age, time)))


def _stood(form: program.Stood, monitor: _Monitor) -> Watched:
    trigger, response, time = monitor.on(form.trigger), monitor.on(form.response), monitor.on(form.time)
    stands = monitor.scope.remember("stands", "bool", False)
    age = monitor.scope.remember("age", "int", 0, 0, int(form.time.high))
    grown = select(both(trigger, stands), _aged(age, time), ZERO)
    monitor.keep("stands", trigger, OFF)
    monitor.keep("age", grown, ZERO)
    out = both(trigger, apply("le", time, grown))
    return Watched(both(out, inverse(response)), out)


def _after_never(form: program.AfterNever, monitor: _Monitor) -> Watched:
    trigger, forbidden, release = (monitor.on(each) for each in (form.trigger, form.forbidden, form.release))
    before = monitor.scope.remember("armed", "bool", False)
    armed = both(either(before, trigger), inverse(release))
    monitor.keep("armed", armed, OFF)
    return Watched(both(armed, forbidden), trigger)


def _at_most(form: program.AtMost, monitor: _Monitor) -> Watched:
    """Kept as the time since the last event and the gaps between the ones before it."""
    event, time = monitor.on(form.event), monitor.on(form.time)
    most = int(form.time.high)
    gaps = [monitor.scope.remember(f"gap{i}", "int", most, 0, most) for i in range(form.count)]
    if gaps:
        gaps[0] = _aged(gaps[0], time)
    reach = ZERO
    for gap in gaps:
        reach = apply("add", reach, gap)
    far = constant(most)
    for i, gap in enumerate(gaps):
        newer = ZERO if i == 0 else gaps[i - 1]
        monitor.keep(f"gap{i}", select(event, newer, gap), far)
    return Watched(both(event, apply("lt", reach, time)), event)


def _before(form: program.Before, monitor: _Monitor) -> Watched:
    first, then = monitor.on(form.first), monitor.on(form.then)
    seen = monitor.scope.remember("seen", "bool", False)
    now = either(seen, first)
    monitor.keep("seen", now, OFF)
    return Watched(both(then, inverse(now)), then)


_FORMS: dict[type, Callable[[Any, _Monitor], Watched]] = {
    program.Never: _never,
    program.Always: _always,
    program.Whenever: _whenever,
    program.Stood: _stood,
    program.AfterNever: _after_never,
    program.AtMost: _at_most,
    program.Before: _before,
}
assert set(_FORMS) == set(get_args(program.Form)), "lowering must know every form"
