"""Comparing what two engines say of one run, to the last bit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from random import Random
from typing import Any

from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.understand import understand_texts


def bits(value: Any) -> Any:
    """A value so that 0.0 and -0.0, 1 and 1.0, off and 0 are different things."""
    if isinstance(value, float):
        return value.hex()
    if isinstance(value, Mapping):
        return {key: bits(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [bits(each) for each in value]
    return (type(value).__name__, value) if isinstance(value, bool | int) else value


def differences(expected: Outcome, found: Outcome) -> Iterator[str]:
    """Each thing that two outcomes do not agree on, in words. What only the reference records is apart."""
    for name in ("judgements", "expectations", "ended_at", "scans", "assumption_broken", "final"):
        yield from _differ(name, getattr(expected, name), getattr(found, name))
    if expected.trace is not None and found.trace is not None:
        for name in ("times", "scan_starts", "tags", "plant"):
            yield from _differ(name, getattr(expected.trace, name), getattr(found.trace, name))


def _differ(name: str, expected: Any, found: Any) -> Iterator[str]:
    if isinstance(expected, Mapping):
        for key in expected.keys() | found.keys():
            yield from _differ(f"{name}[{key}]", expected.get(key), found.get(key))
    elif bits(expected) != bits(found):
        yield f"{name}: expected {str(expected)[:200]}, found {str(found)[:200]}"


def compare_run(engine: Engine, program: Program, story: Story, **how: Any) -> list[str]:
    """What `engine` says otherwise than the reference engine of one run."""
    return list(differences(ReferenceEngine().run(program, story, **how), engine.run(program, story, **how)))


def program_of(text: str) -> Program | None:
    """The program of a generated text; None where the text is one of the few that are refused."""
    return understand_texts({"generated.rung": text}).program


def compare_generated(engine: Engine, text: str, story: Story, program: Program, random: Random) -> list[str]:
    """All ways of running one generated story: recorded, bare, and stopped at a violation."""
    watch = frozenset(each.name for each in program.requirements if random.random() < 0.5)
    return [
        *compare_run(engine, program, story, record=True),
        *compare_run(engine, program, story),
        *compare_run(engine, program, story, watch=watch, stop_at_violation=True),
    ]
