"""Rows that nobody reached: proved out of reach, or shown by a course of the inputs of the controller alone."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from rungproof.grammar import tree
from rungproof.grammar.tree import Block, Span
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.coverage.instrument import Instrumented, Latched, instrument
from rungproof.logic.meaning.program import Never, Program, Requirement, SourceText
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.typed import TagValue
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.proofs.prove import prove_program

_NOWHERE = Span("", 1, 1, 1)

#: What is told while it goes on.
WORDS = "looking for what is missing, or for a proof that it cannot come"


@dataclass(frozen=True, slots=True)
class Sought:
    """What is known of one row or mark: `unreachable`, a `story` that reaches it, or neither and `why`."""

    unreachable: bool
    story: str | None = None
    why: str = ""


def alone(blocks: Sequence[Block], sources: Sequence[SourceText]) -> Program | None:
    """The controller by itself, whose inputs may do anything; None where it cannot stand alone."""
    kept: list[Block] = [block for block in blocks if isinstance(block, tree.Controller | tree.Tags | tree.Rung)]
    return understand_project(Project(list(sources), kept)).program


def sought(
    bench: Program, wanted: Collection[Latched], time_s: float, progress: Progress | None = None
) -> dict[Latched, Sought]:
    """Try to prove that none of `wanted` is ever reached, each within `time_s` seconds."""

    def told(_name: str, done: int, there: int) -> None:
        if progress is not None:
            progress(done, there, WORDS)

    told("", 0, len(wanted))
    instrumented = instrument(bench)
    names = {what: name for name, what in instrumented.latches.items() if what in wanted}
    program = _asking(instrumented, sorted(names.values()))
    results = prove_program(program, time_s=time_s, progress=told)
    found = {}
    for what, name in names.items():
        result = results[name]
        story = None
        if result.word == "violated" and result.story is not None:
            story = story_block(bench, result.story, "What would show it")
        found[what] = Sought(result.word in ("proved", "vacuous"), story, result.why)
    return found


def _asking(instrumented: Instrumented, names: Sequence[str]) -> Program:
    """The program with one requirement for each latch: that it never comes on."""
    asked = tuple(_never(name) for name in names)
    return replace(instrumented.program, requirements=asked, assumptions=(), scenarios=())


def _never(name: str) -> Requirement:
    return Requirement(
        name=name,
        sentence="",
        restatement="",
        against=(),
        form=Never(TagValue(type="bool", span=_NOWHERE, tag=name)),
        from_time=None,
        outputs_free=False,
        any_one_fault=False,
        instants="scan",
        looked_at="in the program",
        horizon=0,
        span=_NOWHERE,
    )
