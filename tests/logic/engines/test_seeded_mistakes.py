"""Mistakes planted in the lowering are each caught by the agreement suite.

Every row plants one mistake in what the compiled engine runs; the reference engine stays as
it is. A row that no generated program tells apart would mean that the generator is blind to it.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from random import Random
from typing import Any

import agreement
import generated_plants as plants
import generated_programs as programs
import pytest
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.steps import controller, expressions, monitors, run_plan, stages, wiring
from rungproof.logic.steps.node import OFF, ON, Node, apply, both, constant, either, inverse, select
from rungproof.logic.steps.stages import StageInput, StageMemory

Patch = Callable[[pytest.MonkeyPatch], None]
ZERO, ONE = constant(0), constant(1)


def _stage(kind: str, change: Callable[[StageMemory, StageInput], StageMemory]) -> Patch:
    return lambda patch: patch.setitem(stages.STAGES, kind, change)


def _given(kind: str, **changes: Callable[[StageInput], Node]) -> Patch:
    """A stage that meets something else than it should."""
    whole = stages.STAGES[kind]  # type: ignore[index]

    def changed(memory: StageMemory, given: StageInput) -> StageMemory:
        other = {name: changes[name](given) if name in changes else getattr(given, name) for name in given.__slots__}
        return whole(memory, StageInput(**other))

    return _stage(kind, changed)


def _after(kind: str, change: Callable[[StageMemory, StageInput, StageMemory], StageMemory]) -> Patch:
    whole = stages.STAGES[kind]  # type: ignore[index]
    return _stage(kind, lambda memory, given: change(memory, given, whole(memory, given)))


def _set(module: Any, name: str, value: Any) -> Patch:
    return lambda patch: patch.setattr(module, name, value)


def _entry(table: dict[Any, Any], key: Any, value: Any) -> Patch:
    return lambda patch: patch.setitem(table, key, value)


def _no_first_edge(expression: Any, scope: Any, powered: Node) -> Node:
    now = expressions.lower(expression.operand, scope, powered)
    before = scope.remember(f"{expression.slot}#before", "bool", False)
    scope.becomes(f"{expression.slot}#before", now)
    return both(now, inverse(before)) if expression.kind == "rising" else both(inverse(now), before)


def _swapped_edge(expression: Any, scope: Any, powered: Node) -> Node:
    now = expressions.lower(expression.operand, scope, powered)
    before = scope.remember(f"{expression.slot}#before", "bool", False)
    scope.becomes(f"{expression.slot}#before", now)
    went = both(inverse(now), before) if expression.kind == "rising" else both(now, inverse(before))
    return both(inverse(scope.first), went)


def _within_without_last(trigger: Node, response: Node, time: Node, most: int, monitor: Any) -> Any:
    return _WITHIN(trigger, response, apply("sub", time, ONE), most, monitor)


def _throughout_without_last(trigger: Node, response: Node, time: Node, most: int, monitor: Any) -> Any:
    return _THROUGHOUT(trigger, response, apply("sub", time, ONE), most, monitor)


_WITHIN, _THROUGHOUT = monitors._within, monitors._throughout
_BEFORE, _AGED, _CLAMP = monitors._before, monitors._aged, wiring.clamp


def _after_never_late(form: Any, monitor: Any) -> Any:
    """Armed from the instant after the trigger only."""
    trigger, forbidden, release = (monitor.on(each) for each in (form.trigger, form.forbidden, form.release))
    before = monitor.scope.remember("armed", "bool", False)
    monitor.keep("armed", both(either(before, trigger), inverse(release)), OFF)
    return monitors.Watched(both(before, inverse(release), forbidden), trigger)


def _before_late(form: Any, monitor: Any) -> Any:
    """An A at the same instant does not count."""
    first, then = monitor.on(form.first), monitor.on(form.then)
    seen = monitor.scope.remember("seen", "bool", False)
    monitor.keep("seen", either(seen, first), OFF)
    return monitors.Watched(both(then, inverse(seen)), then)


def _stale_when(self: Any, output: Any, power: Node) -> None:
    """A write that later lines do not see: the dropped version."""
    before = dict(self.now)
    _OUTPUT(self, output, power)
    self.written_now = self.now[output.target]
    if output.kind in ("set", "reset"):
        self.now[output.target] = before[output.target]


_OUTPUT = controller._Scan._output


MISTAKES: dict[str, Patch] = {
    "an on-delay's preset is off by one": _given("on-delay", preset=lambda g: apply("add", g.preset, ONE)),
    "an on-delay counts its first scan": _after(
        "on-delay",
        lambda m, g, a: StageMemory(
            a.powered, select(both(g.power, inverse(m.powered)), apply("add", ZERO, g.elapsed), a.number), a.out
        ),
    ),
    "an off-delay is off from the falling scan on": _after(
        "off-delay", lambda m, g, a: StageMemory(a.powered, a.number, both(a.out, either(g.power, inverse(m.powered))))
    ),
    "an off-delay is on before it ever was powered": _after(
        "off-delay", lambda m, g, a: StageMemory(a.powered, a.number, either(a.out, both(g.first, inverse(g.power))))
    ),
    "a pulse starts anew": _after(
        "pulse",
        lambda m, g, a: StageMemory(
            a.powered, select(both(g.power, inverse(m.powered), inverse(g.first)), ZERO, a.number), a.out
        ),
    ),
    "a pulse starts on the first scan": _given("pulse", first=lambda g: OFF),
    "a pulse forgets its elapsed time": _after(
        "pulse", lambda m, g, a: StageMemory(a.powered, select(a.out, a.number, ZERO), a.out)
    ),
    "an accumulating on-delay is not cleared while powered": _given(
        "accumulating on-delay", by=lambda g: both(g.by, inverse(g.power))
    ),
    "an accumulating on-delay counts without power": _given("accumulating on-delay", power=lambda g: ON),
    "a counter counts on the first scan": _given("count-up", first=lambda g: OFF),
    "a count-up counts down": _stage("count-up", stages.STAGES["count-down"]),
    "a counter is not cleared while it rises": _given("count-up", by=lambda g: both(g.by, inverse(g.power))),
    "a count-down ends one late": _after(
        "count-down", lambda m, g, a: StageMemory(a.powered, a.number, apply("lt", a.number, ZERO))
    ),
    "a rising stage pulses at power-up": _given("rising", first=lambda g: OFF),
    "an edge at power-up": _entry(expressions._LOWER, expressions.typed.EdgeOf, _no_first_edge),
    "rising and falling exchanged": _entry(expressions._LOWER, expressions.typed.EdgeOf, _swapped_edge),
    "<= taken for <": _entry(expressions._ORDER, "<=", ("lt", False)),
    "nothing is retained": _set(run_plan, "retained_names", lambda c: frozenset()),
    "a power cut loses nothing": _set(
        run_plan,
        "retained_names",
        lambda c: frozenset([*c.tags, *(f"{s}#{n}" for s in c.stages for n in _STAGE_NAMES)]),
    ),
    "a store does not saturate": _set(controller, "clamp", lambda value, low, high: value),
    "a set that later rungs do not see": _set(controller._Scan, "_output", _stale_when),
    "a monitor's time limit excludes its end": _set(monitors, "_within", _within_without_last),
    "a monitor's stretch excludes its end": _set(monitors, "_throughout", _throughout_without_last),
    "armed one instant late": _entry(monitors._FORMS, monitors.program.AfterNever, _after_never_late),
    "the same instant does not count as before": _entry(monitors._FORMS, monitors.program.Before, _before_late),
    "ages do not grow": _set(monitors, "_aged", lambda age, limit: age),
    "a channel rounds toward zero": _set(
        wiring, "apply", lambda op, *nodes: apply("trunc" if op == "round" else op, *nodes)
    ),
    "a channel does not saturate": _set(wiring, "clamp", lambda value, low, high: value),
    "a dead module still reads": _set(wiring, "live", lambda supply, look: ON),
    "noise drawn one index late": lambda patch: patch.setattr(
        "rungproof.logic.engines.compiled.uniform",
        lambda seed, lane, stream, index: programs_uniform(seed, lane, stream, index + 1),
    ),
}
_STAGE_NAMES = ("powered", "elapsed", "count", "out")


def programs_uniform(seed: int, lane: int, stream: int, index: int) -> float:
    """The true draw, taken before it is replaced."""
    return _UNIFORM(seed, lane, stream, index)


_UNIFORM = importlib.import_module("rungproof.logic.engines.chance").uniform


def _expected(seeds: range) -> list[tuple[Program, Story, Any]]:
    """Generated runs with what the reference engine says of them."""
    rows = []
    for make in (programs.controller_text, plants.plant_text):
        for seed in seeds if make is programs.controller_text else seeds[: len(seeds) // 8]:
            random = Random(seed)
            program = agreement.program_of(make(random))
            if program is not None:
                story = programs.story_for(random, program, 900)
                rows.append((program, story, agreement.ReferenceEngine().run(program, story, record=True)))
    return rows


@pytest.fixture(scope="module")
def expected() -> list[tuple[Program, Story, Any]]:
    return _expected(range(240))


def _caught(expected: list[tuple[Program, Story, Any]]) -> bool:
    """Whether any run of a fresh compiled engine differs from the reference, or cannot even be made."""
    for program, story, outcome in expected:
        try:
            found = CompiledEngine().run(program, story, record=True)
        except (TypeError, ValueError, KeyError, RecursionError):
            return True
        if any(agreement.differences(outcome, found)):
            return True
    return False


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_planted_mistake_is_caught(
    mistake: str, expected: list[tuple[Program, Story, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some generated program tells the mistaken engine from the reference engine."""
    MISTAKES[mistake](monkeypatch)
    assert _caught(expected), "no generated program is hurt by this mistake"


def test_without_a_mistake_nothing_is_caught(expected: list[tuple[Program, Story, Any]]) -> None:
    """The same runs agree where nothing is planted: what is caught above is the mistake."""
    assert not _caught(expected)
