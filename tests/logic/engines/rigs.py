"""Small programs, benches and runs from text, for the tests of the reference engine."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from rungproof.logic.engines.bench import Bench
from rungproof.logic.engines.contract import Outcome, Trace
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.understand import understand_texts

ENGINE = ReferenceEngine()


@cache
def program_of(text: str) -> Program:
    """The program of one file's text; fails with its diagnoses."""
    understood = understand_texts({"rig.rung": text})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    return understood.program


def controller(tags: str, rungs: str, every: str = "1..1000 ms") -> str:
    """A controller's text. `tags` are lines; `rungs` blocks of lines under a name: `run: a; => b`."""
    lines = [f'controller "Rig" every {every}', "", "tags"]
    lines += [f"    {line.strip()}" for line in tags.strip().splitlines()]
    for rung in rungs.strip().splitlines():
        name, _, body = rung.strip().partition(": ")
        lines += ["", f"rung {name}", *(f"    {line.strip()}" for line in body.split("; "))]
    return "\n".join(lines) + "\n"


def bench_of(tags: str, rungs: str, every: str = "1..1000 ms", **parameters: Scalar) -> Bench:
    """A bench with such a controller."""
    return Bench(program_of(controller(tags, rungs, every)), parameters=parameters)


def run(text: str, duration_ms: int, *events: tuple[int, str, Scalar], **more: Any) -> Outcome:
    """A recorded run of a text."""
    scenario, stop = more.pop("scenario", None), more.pop("stop_at_violation", False)
    story = Story(duration_ms, tuple(Event(*each) for each in events), **more)
    return ENGINE.run(program_of(text), story, scenario=scenario, record=True, stop_at_violation=stop)


def trace_of(outcome: Outcome) -> Trace:
    """What was recorded."""
    assert outcome.trace is not None
    return outcome.trace


def bits(column: Sequence[Scalar]) -> str:
    """Truths as `0110`."""
    return "".join("01"[bool(each)] for each in column)
