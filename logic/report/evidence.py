"""What the evidence report is made of: worked out once, then only told."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypedDict

from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.expressions import form_expressions
from rungproof.logic.checks.replay import own_parts
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.coverage.result import CoverageResult
from rungproof.logic.evidence.chart.chart_svg import svg_chart
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.chart.strip import Band, Number, Strip
from rungproof.logic.evidence.drawing_text import comments_of, sheets_of
from rungproof.logic.evidence.drawn.rung_svg import Context, draw_rung, sheet_context
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.report.names import NamedUse, names_of
from rungproof.logic.report.order import in_order
from rungproof.logic.report.selftest import KnownAnswer, self_test
from rungproof.logic.report.tried import Part, Wanted, try_all
from rungproof.logic.safety.independence import IndependenceResult, independence_of
from rungproof.logic.safety.restart import RestartResult
from rungproof.logic.versions import versions

#: A chart longer than this (ms) is left out: the story's lines say what happened.
LONGEST_CHART = 4 * 3_600_000

#: Scenarios that have a chart, besides those that did not go as expected.
MOST_CHARTS = 6

#: A chart has good room for so many bars on a page, and can be read up to so many; a curve takes as much as some.
MOST_ROOM, FULL_PAGE, _ROOM = 26.0, 38.0, 2.5

#: The axis of a number spans at least this share of the number.
LEAST_AXIS = 0.05

#: Drawings fit an A4 page with its margins (CSS pixels between the rails).
DRAWING_WIDTH = 640.0


@dataclass(frozen=True, slots=True)
class DrawnSheet:
    """A controller or a circuit, drawn: its title and an SVG for each rung, in the order of the file."""

    title: str
    circuit: bool
    rungs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that the report tells. `files` are names with the SHA-256 of their bytes and their text.

    Requirements and verdicts stand in the order of their names. `faults`, `restart` and `coverage` are None
    where they were left out, `faults` also without a plant; `whole` are those that took as long as their own
    commands do. `charts` are the stories of violated requirements by name, `scenario_charts` the scenarios by
    theirs.
    """

    program: Program
    result: CheckResult
    files: tuple[tuple[str, str, str], ...]
    drawings: tuple[DrawnSheet, ...]
    charts: Mapping[str, str]
    scenario_charts: Mapping[str, str]
    independence: IndependenceResult
    faults: FaultTable | None
    restart: RestartResult | None
    coverage: CoverageResult | None
    whole: frozenset[Part]
    answers: tuple[KnownAnswer, ...]
    versions: Mapping[str, str]
    names: tuple[NamedUse, ...]

    @property
    def name(self) -> str:
        program = self.program
        if program.controller is not None:
            return program.controller.name
        return program.plant.name if program.plant is not None else "a project"


class Asked(TypedDict, total=False):
    """What may be asked of a report; see `gather`."""

    seed: int
    without: Collection[Part]
    whole: Collection[Part]
    progress: Progress | None


def gather(
    understood: Understanding,
    project: Project,
    *,
    seed: int = 0,
    without: Collection[Part] = (),
    whole: Collection[Part] = (),
    progress: Progress | None = None,
) -> Evidence:
    """Check a program unhurriedly, try its faults and restarts, draw it, chart its stories, and run the self-test.

    All of it is bounded by plans and by steps, not by a clock: the same files, seed and versions give the same
    evidence. `without`: parts to leave out. `whole`: parts to look at for as long as their own commands do.
    Coverage comes without proofs of what cannot be seen. Raises `ValueError` for files that cannot be run.
    """
    program = understood.program
    if program is None:
        raise ValueError("files that cannot be run have no evidence")
    result = check_program(
        program, seed=seed, progress=progress, diagnoses=understood.diagnoses, prove_s=1.0, unhurried=True
    )
    tried = try_all(project, program, Wanted(seed, frozenset(without), frozenset(whole)), progress)
    ordered, told = in_order(program, result)
    return Evidence(
        ordered,
        told,
        files_of(program),
        drawings_of(project),
        _charts(program, result),
        _scenario_charts(program, result),
        independence_of(program),
        tried.faults,
        tried.restart,
        tried.coverage,
        frozenset(whole),
        self_test(),
        versions(),
        named_in(project),
    )


def files_of(project: Program | Understanding) -> tuple[tuple[str, str, str], ...]:
    """Name, SHA-256 and text of every file that the project rests on, a user's own parts among them."""
    found = [(Path(source.path).name, source.digest, source.text) for source in project.sources]
    found += [
        (name, hashlib.sha256(text.encode("utf-8")).hexdigest(), text) for name, text in own_parts(project).items()
    ]
    return tuple(sorted(found))


def drawings_of(project: Project) -> tuple[DrawnSheet, ...]:
    """Every rung and circuit as SVG, without a style of its own."""
    comments = comments_of((source.path, source.text) for source in project.sources)
    context = Context.of(project.blocks, comments)
    return tuple(
        DrawnSheet(
            sheet.title,
            sheet.contacts is not None,
            tuple(
                draw_rung(rung, sheet_context(context, sheet), width=DRAWING_WIDTH, notes="remarks").svg()
                for rung in sheet.rungs
            ),
        )
        for sheet in sheets_of(project.blocks)
        if sheet.rungs
    )


def named_in(project: Project) -> tuple[NamedUse, ...]:
    """Every name in the drawings, with all its uses."""
    comments = comments_of((source.path, source.text) for source in project.sources)
    return names_of(project.blocks, sheets_of(project.blocks), comments)


def _scenario_charts(program: Program, result: CheckResult) -> dict[str, str]:
    """Of the first scenarios, and of those that did not go as expected; a chart takes a page."""
    other = {each.name for each in result.scenarios if each.word != "as expected"}
    found = {}
    for place, scenario in enumerate(program.scenarios):
        if place >= MOST_CHARTS and scenario.name not in other:
            continue
        about = readings_of(each.condition for each in scenario.expectations).plant
        chart = _chart(program, scenario.story, scenario.name, about)
        if chart is not None:
            found[scenario.name] = chart
    return found


def _charts(program: Program, result: CheckResult) -> dict[str, str]:
    found = {}
    for verdict in result.verdicts:
        if verdict.story is not None:
            chart = _chart(program, verdict.story, f"{verdict.requirement}: the story")
            if chart is not None:
                found[verdict.requirement] = chart
    return found


def _chart(program: Program, story: Story, title: str, about: Iterable[str] = ()) -> str | None:
    """A chart that fits a page: all that switches, and of numbers those that the rungs or `about` speak of."""
    if story.duration_ms > LONGEST_CHART:
        return None
    try:
        strip = _fitting(program, strip_of(program, story, title), frozenset(about))
        return svg_chart(strip, width=DRAWING_WIDTH, tight=True)
    except ValueError:
        return None


def _fitting(program: Program, strip: Strip, about: frozenset[str]) -> Strip:
    """A strip without the plant's numbers that nothing speaks of, where all of them would not fit on a page.

    Where it is still too much to be read, others go too: first those that an input shows all the same.
    """
    bands = strip.bands
    if _room(bands) > MOST_ROOM:
        told = set(about) | {key for each in program.requirements for key in readings_of(form_expressions(each)).plant}
        told |= {wire.source for wire in program.plant.inputs if wire.source} if program.plant is not None else set()
        bands = tuple(b for b in bands if not isinstance(b, Number) or b.group != "plant" or b.name in told)
    read = {wire.source for wire in program.plant.inputs} if program.plant is not None else set()
    spare = [b for b in reversed(bands) if isinstance(b, Number) and b.group == "plant" and b.name not in about]
    for band in sorted(spare, key=lambda b: b.name not in read):
        if _room(bands) > FULL_PAGE:
            bands = tuple(b for b in bands if b is not band)
    return replace(strip, bands=tuple(_wide(band) if isinstance(band, Number) else band for band in bands))


def _room(bands: Iterable[Band]) -> float:
    return sum(_ROOM if isinstance(band, Number) else 1.0 for band in bands)


def _wide(band: Number) -> Number:
    """An axis wide enough that the noise of a reading that stands still does not fill it."""
    least = LEAST_AXIS * max(abs(band.low), abs(band.high))
    more = (least - (band.high - band.low)) / 2
    return band if more <= 0 or band.low == band.high else replace(band, low=band.low - more, high=band.high + more)
