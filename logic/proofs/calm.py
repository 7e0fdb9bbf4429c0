"""A run without what plays no part in it: inputs stand still wherever it is as bad without their moving."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from dataclasses import replace

from rungproof.logic.proofs.run import Run, first_bad, least_inputs
from rungproof.logic.proofs.system import SCAN_TICKS, System
from rungproof.logic.steps.operators import Scalar


def calmed(system: System, run: Run, time_s: float) -> Run:
    """`run`, no longer than before, with as few moves of its inputs as `time_s` seconds of leaving them out leave."""
    until = time.monotonic() + time_s
    least = least_inputs(system)
    run = replace(run, given=tuple({**least, **given} for given in run.given))
    starts = {each.name: each.start for each in system.step.states.values()}
    tries = [replace(run, starts={**run.starts, name: starts[name]}) for name in run.starts]
    for attempt in tries:
        if time.monotonic() < until and run.starts != attempt.starts:
            run = _if_bad(system, replace(run, starts=attempt.starts), run)
    for name in least:
        for given in _calmer(run, name, least[name]):
            if time.monotonic() > until:
                return run
            run = _if_bad(system, replace(run, given=given), run)
    return run


def _if_bad(system: System, attempt: Run, run: Run) -> Run:
    at = first_bad(system, attempt)
    return run if at is None else replace(attempt, given=attempt.given[: at + 1])


def _calmer(run: Run, name: str, least: Scalar) -> Iterator[tuple[Mapping[str, Scalar], ...]]:
    """The same with one input still throughout; then with one stretch of it as what came before."""
    yield tuple({**given, name: least} for given in run.given)
    if name == SCAN_TICKS:
        return
    values = [given[name] for given in run.given]
    for place in range(len(values) - 1, -1, -1):
        before = values[place - 1] if place else least
        if values[place] != before:
            end = next((i for i in range(place, len(values)) if values[i] != values[place]), len(values))
            changed = [before if place <= i < end else value for i, value in enumerate(values)]
            yield tuple({**given, name: value} for given, value in zip(run.given, changed, strict=True))
