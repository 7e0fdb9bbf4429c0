"""Truth by trying everything: all states of a small system that its inputs can lead to."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import product
from typing import Any

from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, STOP, System
from rungproof.logic.steps.operators import OPERATORS
from rungproof.logic.steps.step import Step

#: No time in small programs is as long: longer cuts are like this one.
LONGEST_OUTAGE = 10
REALS = (
    0.0,
    1.0,
    math.nextafter(1.0, 2),
    2.5,
    math.nextafter(2.5, 3),
    math.nextafter(2.5, 2),
    3.0,
    4.9,
    5.0,
    7.0,
    7.5,
    10.0,
)

Transition = Callable[[tuple[Any, ...], tuple[Any, ...]], tuple[tuple[Any, ...], bool]]


def compiled(step: Step, bad: str) -> Transition:
    """One transition as a Python function of the tuples of state and inputs."""
    names: dict[Any, str] = {}
    lines = ["def transition(s, i):"]
    for place, name in enumerate(step.states):
        names[step.states[name].node] = f"s[{place}]"
    for place, name in enumerate(step.inputs):
        names[step.inputs[name].node] = f"i[{place}]"
    symbols = {
        "and": "{} and {}",
        "or": "{} or {}",
        "not": "not {}",
        "add": "{} + {}",
        "sub": "{} - {}",
        "mul": "{} * {}",
        "lt": "{} < {}",
        "le": "{} <= {}",
        "eq": "{} == {}",
        "select": "{1} if {0} else {2}",
    }
    for index, node in enumerate(step.nodes):
        if node.operator == "constant":
            names[node] = repr(node.value)
        elif node.operator != "variable":
            parts = [names[each] for each in node.operands]
            text = symbols.get(node.operator, f"_{node.operator}({', '.join('{}' for _ in parts)})").format(*parts)
            lines.append(f"    v{index} = {text}")
            names[node] = f"v{index}"
    after = ", ".join(
        names[step.next[name]] if name in step.next else f"s[{place}]" for place, name in enumerate(step.states)
    )
    lines.append(f"    return ({after}{',' if after else ''}), {names[step.outputs[bad]]}")
    scope: dict[str, Any] = {f"_{name}": each.plain for name, each in OPERATORS.items()}
    exec("\n".join(lines), scope)
    return scope["transition"]  # type: ignore[no-any-return]


def choices(system: System) -> Iterator[tuple[Any, ...]]:
    """Every combination of inputs; reals at some values, cuts of every length that matters."""
    spans: list[list[Any]] = []
    for each in system.step.inputs.values():
        if each.name == OUTAGE_TICKS:
            spans.append(list(range(1, LONGEST_OUTAGE)))
        elif each.type == "bool":
            spans.append([False, True])
        elif each.type == "int":
            spans.append(list(range(int(each.low), int(each.high) + 1)))
        else:
            spans.append([v for v in REALS if each.low <= v <= each.high])
    names = list(system.step.inputs)
    cut = names.index(CUT) if CUT in names else None
    outage = names.index(OUTAGE_TICKS) if OUTAGE_TICKS in names else None
    for values in product(*spans):
        if cut is None or outage is None or STOP in names or values[cut] or values[outage] == 1:
            yield values


def shortest_bad(system: System, most: int = 60_000) -> tuple[str, int]:
    """(`bad`, transitions of the shortest bad run), (`good`, number of states), or (`?`, tried)."""
    step = system.step
    run, inputs = compiled(step, system.bad), list(choices(system))
    starts = [
        [s.start] if s.name not in system.free_starts else list(range(int(s.low), int(s.high) + 1))
        for s in step.states.values()
    ]
    seen = set(product(*starts))
    front, depth, tried = list(seen), 0, 0
    while front:
        depth, fresh = depth + 1, []
        for state in front:
            for given in inputs:
                after, bad = run(state, given)
                if bad:
                    return "bad", depth
                if after not in seen:
                    seen.add(after)
                    fresh.append(after)
            tried += len(inputs)
            if tried > most:
                return "?", tried
        front = fresh
    return "good", len(seen)
