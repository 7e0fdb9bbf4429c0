"""The lanes engine: one program under many stories at once, one lane a story.

Gives every lane the outcome that the reference engine gives its story, to the last bit.
Worth its while from some dozens of lanes on; a single story is quicker compiled.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from rungproof.logic.engines import lanes_arithmetic
from rungproof.logic.engines.compiled import PROGRAMS_KEPT, SHAPES_KEPT, shape_of
from rungproof.logic.engines.contract import Outcome
from rungproof.logic.engines.lanes_chunk import Chunk, Run
from rungproof.logic.engines.lanes_loop import write_lanes
from rungproof.logic.engines.lanes_words import mask_of, squeezed, word_of
from rungproof.logic.meaning.program import Knob, Program, Story
from rungproof.logic.steps.lowered import LoweredProgram, lower_program
from rungproof.logic.steps.margins import with_margins
from rungproof.logic.steps.narrow import narrowed
from rungproof.logic.steps.operators import divide_int, divide_real, root
from rungproof.logic.steps.run_plan import HUNG, OVERRUNS, RunPlan, Shape, plan_run
from rungproof.logic.steps.run_slice import showing

#: So many lanes are run at once. Fewer pay more for each call, more fall out of the cache.
CHUNK = 8192

#: From so many on, stories in which power goes or the controller stops run apart: their scans fall
#: out of step with those of the others, and each step costs a turn of its own.
APART_FROM = 512


#: What moves only where something fails, or is put out of action.
_FAILING = ("fault", "power", "stop")


@dataclass(frozen=True, slots=True)
class _Ready:
    plan: RunPlan
    source: str
    run: Run


class LanesEngine:
    """Runs many stories of one program at once."""

    def __init__(self) -> None:
        self._lowered: OrderedDict[int, tuple[Program, LoweredProgram]] = OrderedDict()
        self._ready: OrderedDict[tuple[int, Shape, frozenset[str] | None, frozenset[str]], _Ready] = OrderedDict()

    def run_many(
        self,
        program: Program,
        stories: Sequence[Story],
        *,
        watch: frozenset[str] | None = None,
        stop_at_violation: bool = False,
        shown: frozenset[str] | None = None,
        until: float | None = None,
        margins: frozenset[str] = frozenset(),
    ) -> list[Outcome]:
        """The outcome of every story, in order, without traces or expectations.

        `shown` are the names that `Outcome.final` holds in the end (all if None): the fewer, the
        quicker. At `until`, a time of `time.time()`, every story that still runs ends where it is:
        its outcome is that of the story cut there. `margins` names the requirements of which judgements
        tell how near a violation came. Raises `ValueError` for a story that is none of the program.
        """
        shapes = [shape_of(program, story, watch, stop_at_violation=stop_at_violation) for story in stories]
        found: list[Outcome | None] = [None] * len(stories)
        for members in _groups(program, stories):
            shape = _shared(program, [(stories[i], shapes[i]) for i in members])
            ready = self._prepared(program, shape, shown, margins)
            for at in range(0, len(members), CHUNK):
                places = members[at : at + CHUNK]
                chunk = Chunk(program, ready.plan, [stories[i] for i in places], until)
                ready.run(chunk, np)
                for i, outcome in zip(places, chunk.outcomes, strict=True):
                    found[i] = outcome
        assert all(outcome is not None for outcome in found), "every lane must end"
        return [outcome for outcome in found if outcome is not None]

    def source(self, program: Program, stories: Sequence[Story], watch: frozenset[str] | None = None) -> str:
        """The generated source for such stories, to read."""
        runs = [(story, shape_of(program, story, watch)) for story in stories]
        return self._prepared(program, _shared(program, runs)).source

    def _prepared(
        self, program: Program, shape: Shape, shown: frozenset[str] | None = None, margins: frozenset[str] = frozenset()
    ) -> _Ready:
        key = (id(program), shape, shown, margins)
        known = self._lowered.get(id(program))
        if known is None or known[0] is not program:
            known = self._lowered[id(program)] = (program, lower_program(program))
            if len(self._lowered) > PROGRAMS_KEPT:
                self._lowered.popitem(last=False)
            self._ready = OrderedDict((k, v) for k, v in self._ready.items() if k[0] != id(program))
        if key not in self._ready:
            whole = plan_run(known[1], shape)
            whole = with_margins(whole, margins) if margins else whole
            plan, facts = narrowed(whole if shown is None else showing(whole, shown))
            source = write_lanes(plan, facts, shape)
            self._ready[key] = _Ready(plan, source, _function(source))
            if len(self._ready) > SHAPES_KEPT:
                self._ready.popitem(last=False)
        return self._ready[key]


def _shared(program: Program, runs: Sequence[tuple[Story, Shape]]) -> Shape:
    """The shape of a run of them all: whatever moves, or is free, in one of them; of what can fail, only what does."""
    first = runs[0][1]
    moving, free = (frozenset[str]().union(*sets) for sets in zip(*((s.moving, s.free) for _, s in runs), strict=True))
    touched = {event.key for story, _ in runs for event in story.events}
    failing = {key for key in moving - touched if program.knobs[key].kind in _FAILING}
    taken = [shape.free & {event.key for event in story.events if event.at_ms <= 0} for story, shape in runs]
    return replace(first, moving=moving - failing, free=free, taken=frozenset.intersection(*taken))


def breaks_step(knob: Knob) -> bool:
    """Whether scans fall out of step with those of other lanes where it moves."""
    return knob.kind in ("power", "stop") or knob.key in (HUNG, OVERRUNS)


def _groups(program: Program, stories: Sequence[Story]) -> list[list[int]]:
    """Stories that may share a run: of one seed, and in step as far as it pays."""
    interrupts = {key for key, knob in program.knobs.items() if breaks_step(knob)}
    groups: dict[int, tuple[list[int], list[int]]] = {}
    for index, story in enumerate(stories):
        apart = any(event.key in interrupts for event in story.events)
        groups.setdefault(story.seed, ([], []))[apart].append(index)
    made: list[list[int]] = []
    for steady, interrupted in groups.values():
        if min(len(steady), len(interrupted)) >= APART_FROM:
            made += [steady, interrupted]
        else:
            made.append(sorted([*steady, *interrupted]))
    return made


def _function(source: str) -> Run:
    """`divide_guarded` and so on are for arrays, `_divide` and so on for what is alike in all lanes."""
    scope: dict[str, Any] = {
        "word_of": word_of,
        "mask_of": mask_of,
        "squeezed": squeezed,
        "divide_guarded": lanes_arithmetic.divide,
        "divide_int": lanes_arithmetic.div,
        "root": lanes_arithmetic.root,
        "nearest": lanes_arithmetic.nearest,
        "_divide": divide_real,
        "_div": divide_int,
        "_root": root,
        "_abs": abs,
        "_round": round,
        "_trunc": int,
        "_float": float,
    }
    exec(compile(source, "<lanes>", "exec"), scope)  # the source is ours alone, made from nodes
    run: Run = scope["run"]
    return run
