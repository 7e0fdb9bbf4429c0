"""From a run to a strip.

    strip_of(program, story, title)      run a story and gather what a chart of it shows

Truths keep every change; numbers are thinned to what a picture can show, keeping every peak.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.scenarios import why_apart
from rungproof.logic.checks.spoken_of import names_in
from rungproof.logic.checks.story_text import story_tree
from rungproof.logic.checks.words import rounded, time_words
from rungproof.logic.engines.contract import Outcome, Trace
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.evidence.account import units_of, wanted
from rungproof.logic.evidence.chart.strip import (
    EXPECT,
    GROUPS,
    Band,
    Ended,
    Group,
    Mark,
    MarkKind,
    Number,
    Strip,
    Truth,
    Violation,
    Wait,
)
from rungproof.logic.evidence.chart.waiting import Waiting
from rungproof.logic.evidence.run_account import affordable
from rungproof.logic.meaning.program import Expectation, Program, Story
from rungproof.logic.meaning.typed import Scalar

#: Points of a curve at most: two for each column of a wide picture.
MOST_POINTS = 1400
#: The word for a message that nobody can read.
NOT_SHOWN = "not shown"
#: Instants of a run that are watched once more to say what its requirements were waiting for.
MOST_WATCHED = 400_000
#: The words for the states of what parts show, where `not WORD` would not be how one says it.
STATES: dict[str, tuple[str, str]] = {
    "lit": ("dark", "lit"),
    "sounding": ("silent", "sounding"),
    "energised": ("dead", "energised"),
    "turning": ("at rest", "turning"),
    "moving": ("at rest", "moving"),
    "pulled_in": ("dropped out", "pulled in"),
    "live": ("dead", "live"),
    "up": ("down", "up"),
    "wet": ("dry", "wet"),
    "lifted": ("down", "lifted"),
    "echo": ("no echo", "echo"),
    "on": ("off", "on"),
}
_MS = {"ms": 1, "s": 1000, "min": 60_000}
_KINDS: dict[str, MarkKind] = {"fault": "fault", "clear": "fault", "cut": "power", "restore": "power"}
_KINDS |= {"stop": "power", "resume": "power"}


def strip_of(
    program: Program,
    story: Story,
    title: str,
    *,
    only: frozenset[str] = frozenset(),
    expectations: Sequence[Expectation] = (),
) -> Strip:
    """Run a story, judge every requirement in it, and gather the strip.

    `only` names tags and signals to show (empty: all that changes, but contacts and insides of
    stages, and whatever a violated requirement speaks of). Raises `ValueError` for a run too long
    to be gathered, `KeyError` for a name in `only` that is not there.
    """
    outcome = recorded(program, story, expectations)
    return strip_from(program, story, outcome, title, only=only, expectations=expectations)


def recorded(program: Program, story: Story, expectations: Sequence[Expectation] = ()) -> Outcome:
    """A run with its trace, every requirement judged. Raises `ValueError` where it would be too long to hold."""
    affordable(program, story)
    scenario = None
    if expectations:
        holder = replace(program.scenarios[0], story=story, expectations=tuple(expectations))
        program, scenario = replace(program, scenarios=(holder,)), 0
    return fast_engine().run(program, story, scenario=scenario, record=True)


def trace_of(outcome: Outcome) -> Trace:
    """The trace of a run that was recorded."""
    if outcome.trace is None:
        raise AssertionError("an engine that was asked to record did not")
    return outcome.trace


def strip_from(
    program: Program,
    story: Story,
    outcome: Outcome,
    title: str,
    *,
    only: frozenset[str] = frozenset(),
    expectations: Sequence[Expectation] = (),
) -> Strip:
    """`strip_of` from a run that was recorded already."""
    trace = trace_of(outcome)
    only = wanted(only, {*trace.tags, *trace.plant})
    unknown = sorted(only - {*trace.tags, *trace.plant})
    if unknown:
        raise KeyError(f"no tag or signal is called `{unknown[0]}`")
    violations = _violations(program, story, outcome)
    waits = [*_waits(program, story, violations), *_expected(expectations, outcome)]
    kept = set(only) or _shown(program, trace, violations)
    bands, steady = _bands(program, trace, kept)
    marks = marks_of(program, story, outcome.ended_at)
    cut = outcome.assumption_broken
    if cut is not None:
        words = f'the run ends: "{program.assumptions[cut[0]].sentence}" no longer holds'
        marks = (*marks, Mark(cut[1], "cut short", words))
    last = max(outcome.ended_at, cut[1] if cut is not None else 0)
    return Strip(title, 0, last, bands, steady, marks, tuple(waits), violations)


# ------------------------------------------------------------------------ bands


def _shown(program: Program, trace: Trace, violations: Sequence[Violation]) -> set[str]:
    contacts = set(program.plant.assembly.contacts) if program.plant is not None else set()
    spoken = {
        name for each in program.requirements if each.name in {v.name for v in violations} for name in names_in(each)
    }
    return {name for name in (*trace.tags, *trace.plant) if name not in contacts and not name.endswith(".elapsed")} | (
        spoken & {*trace.tags, *trace.plant}
    )


def _bands(program: Program, trace: Trace, kept: set[str]) -> tuple[tuple[Band, ...], tuple[Band, ...]]:
    """Bands in the order of the groups: those that change, and those that never do."""
    times = np.asarray(trace.times, dtype=np.int64)
    columns = {name: column for name, column in (*trace.tags.items(), *trace.plant.items()) if name in kept and column}
    units = units_of(program, columns)
    bands = [band_of(program, name, times, column, units.get(name)) for name, column in columns.items()]
    bands.sort(key=lambda band: GROUPS.index(band.group))
    return tuple(b for b in bands if not b.steady), tuple(b for b in bands if b.steady)


def band_of(program: Program, name: str, times: np.ndarray, column: Sequence[Scalar], unit: str | None) -> Band:
    """One column of a trace as a band; the first value counts from the beginning of the run."""
    group = group_of(program, name)
    if isinstance(column[0], bool | np.bool_):
        values = np.asarray(column, dtype=bool)
        places = [0, *(np.flatnonzero(values[1:] != values[:-1]) + 1)]
        off, on = _words_of(program, name) if group == "plant" else ("off", "on")
        changes = tuple((int(times[p]) if n else 0, bool(values[p])) for n, p in enumerate(places))
        return Truth(name, group, changes, off, on)
    numbers = np.asarray(column, dtype=float)
    kept = _thinned(numbers)
    points = tuple((int(times[p]), float(numbers[p])) for p in kept)
    return Number(name, group, points, float(numbers.min()), float(numbers.max()), unit, group != "plant")


def _words_of(program: Program, name: str) -> tuple[str, str]:
    """The two states of something that a part shows; of a message its text, and nothing while it is not to be read."""
    outputs = program.plant.assembly.outputs if program.plant is not None else {}
    says = outputs[name].says if name in outputs else ""
    return (NOT_SHOWN, says) if says else _state_words(name.rpartition(".")[2])


def _state_words(shows: str) -> tuple[str, str]:
    """What people call the two states of something that a part shows."""
    word = shows.replace("_", " ")
    return STATES.get(shows, (f"not {word}", word))


def _thinned(values: np.ndarray) -> Sequence[int]:
    """Places that draw the same picture: where the value changes; of very many, each column's least and greatest."""
    changes = np.flatnonzero(values[1:] != values[:-1])
    places = np.unique(np.concatenate([[0], changes, changes + 1, [len(values) - 1]])).astype(int)
    if len(places) <= MOST_POINTS:
        return [int(place) for place in places]
    edges = np.linspace(0, len(values), MOST_POINTS // 4 + 1).astype(int)
    kept = {0, len(values) - 1}
    for start, end in pairwise(edges):
        part = values[start:end]
        kept |= {start, end - 1, start + int(part.argmin()), start + int(part.argmax())}
    return sorted(int(place) for place in kept)


def group_of(program: Program, name: str) -> Group:
    controller = program.controller
    if controller is not None and name in controller.tags:
        role = controller.tags[name].role
        return "inputs" if role == "input" else "outputs" if role == "output" else "memory"
    if controller is not None and name.partition(".")[0] in controller.stages:
        return "stages"
    if program.plant is not None and name in program.plant.assembly.contacts:
        return "contacts"
    return "plant"


# ------------------------------------------------------------ marks and violations


def marks_of(program: Program, story: Story, last_ms: int) -> tuple[Mark, ...]:
    """What people, the world and faults do in a story, as a scenario says it."""
    marks = []
    for line in story_tree(program, story, "").lines:
        if isinstance(line, tree.At):
            at = int(Decimal(line.time.text) * _MS[line.time.unit or "ms"])
            if at <= last_ms:
                _, _, _, *words = to_text(line).split()
                marks.append(Mark(at, _KINDS.get(line.action, "event"), " ".join(words)))
    return tuple(sorted(marks, key=lambda mark: mark.at_ms))


def _violations(program: Program, story: Story, outcome: Outcome) -> tuple[Violation, ...]:
    """Those that count first, in order of time."""
    found = []
    for requirement in program.requirements:
        at = outcome.judgements[requirement.name].violated_at
        if at is not None:
            apart = why_apart(program, requirement, story)
            sentence, restated = requirement.sentence, requirement.restatement
            found.append(Violation(requirement.name, at, sentence, restated, apart is None, apart or ""))
    return tuple(sorted(found, key=lambda each: (not each.counts, each.at_ms)))


def _waits(program: Program, story: Story, violations: Sequence[Violation]) -> tuple[Wait, ...]:
    """What the violated requirements were waiting for, seen in the reference engine up to the last violation."""
    counting = [each for each in violations if each.counts]
    step = program.plant.tick if program.plant is not None else 1
    end = max((each.at_ms for each in counting), default=0)
    if not counting or end // step > MOST_WATCHED:
        return ()
    names = frozenset(each.name for each in counting)
    waiting = Waiting.of(program, names)
    ReferenceEngine(waiting).run(program, replace(story, duration_ms=end), watch=names)
    return waiting.waits()


def _expected(expectations: Sequence[Expectation], outcome: Outcome) -> list[Wait]:
    """The stretches in which a scenario expects something."""
    waits = []
    for expectation, met in zip(expectations, outcome.expectations, strict=False):
        end = outcome.ended_at if expectation.mode == "at end" else expectation.from_ms + expectation.time_ms
        start = outcome.ended_at if expectation.mode == "at end" else expectation.from_ms
        ended: Ended = "open" if met is None else "met" if met else "not met"
        words = expectation.restatement.rstrip(".")
        waits.append(Wait(EXPECT, start, min(end, outcome.ended_at), words, ended))
    return waits


def steady_words(strip: Strip) -> list[str]:
    """What never changed, in sentences: `on throughout: stop_ok, P24.live`; before it what messages say."""
    by_state: dict[str, list[str]] = {}
    figures = []
    for band in strip.steady:
        if isinstance(band, Truth):
            by_state.setdefault(band.on if band.changes[0][1] else band.off, []).append(band.name)
        else:
            figures.append(f"{band.name} {rounded(band.low, 5)}{f' {band.unit}' if band.unit else ''}")
    rows = [f"{state} throughout: {', '.join(names)}" for state, names in sorted(by_state.items())]
    told = [f'{b.name} is "{b.on}"' for b in strip.bands if isinstance(b, Truth) and b.off == NOT_SHOWN]
    return [*told, *rows, *([f"steady: {', '.join(figures)}"] if figures else [])]


def title_words(strip: Strip) -> str:
    """How long the strip is, in words."""
    return f"{time_words(strip.first_ms)} to {time_words(strip.last_ms)}"
