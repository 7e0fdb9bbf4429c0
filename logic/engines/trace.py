"""Writing a run down, instant by instant and scan by scan."""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.logic.engines.contract import Trace
from rungproof.logic.engines.reference_stages import StageState
from rungproof.logic.meaning.program import Controller
from rungproof.logic.meaning.typed import Scalar

#: The word under which a stage's number is read.
READING = {"count-up": "count", "count-down": "count"}


def stage_values(controller: Controller, stages: Mapping[str, StageState]) -> dict[str, Scalar]:
    """Stages by the names that files use: `float_hold`, `float_hold.elapsed`, `starts.count`."""
    values: dict[str, Scalar] = {}
    for name, stage in controller.stages.items():
        values[name] = stages[name].out
        if stage.kind != "rising":
            values[f"{name}.{READING.get(stage.kind, 'elapsed')}"] = stages[name].number
    return values


def add_row(trace: Trace, t: int, tags: Mapping[str, Scalar], plant: Mapping[str, Scalar]) -> None:
    """One row: instant `t` with what was visible at it."""
    trace.times.append(t)
    for columns, values in ((trace.tags, tags), (trace.plant, plant)):
        for name, value in values.items():
            columns.setdefault(name, []).append(value)
