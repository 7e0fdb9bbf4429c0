"""Runs: of a scenario, of a story, or of nothing at all; told, as a chart and as a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.files import read_file_text
from rungproof.logic.api_results import ChartResult, FilesWrongError, RunResult
from rungproof.logic.checks.replay import ReplayResult, replay_story
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.replay.frames import recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.evidence.run_account import idle_scenario, run_account
from rungproof.logic.meaning.program import Program, Scenario
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.verbs.reading import Source, runnable, understood_of

#: How long a run without a scenario lasts, in milliseconds, if nobody says otherwise.
IDLE_MS = 10_000


def run(
    path: Source,
    scenario: str | None = None,
    *,
    for_ms: int | None = None,
    every_ms: int | None = None,
    only: Iterable[str] = (),
    seed: int = 0,
) -> RunResult:
    """Run a scenario by its name, or with None a run in which nothing happens, and tell it.

    Args: `for_ms`, how long (the scenario's own length, or 10 s); `every_ms`, the interval at
    which numbers are told; `only`, names to tell (all but contacts); `seed`, of the noise where
    the scenario names none. Raises `FilesWrongError` where the files cannot be run, `KeyError` for
    a scenario or a name that is not there, `ValueError` for a run too long to tell.
    """
    program = runnable(path)
    chosen = idle_scenario(IDLE_MS) if scenario is None else scenario_of(program, scenario)
    return run_program(program, chosen, for_ms=for_ms, every_ms=every_ms, only=frozenset(only), seed=seed)


def run_program(
    program: Program,
    scenario: Scenario,
    *,
    for_ms: int | None = None,
    every_ms: int | None = None,
    only: frozenset[str] = frozenset(),
    seed: int = 0,
) -> RunResult:
    """`run` of a program and a scenario at hand."""
    story = scenario.story
    story = replace(story, duration_ms=story.duration_ms if for_ms is None else for_ms, seed=story.seed or seed)
    told = run_account(program, replace(scenario, story=story), every_ms=every_ms, only=only)
    return RunResult(told.result, story, told.story_text, told.account)


def scenario_of(program: Program, name: str) -> Scenario:
    """The scenario called so, or the only one whose name begins so. Raises `KeyError` with the names."""
    exact = [scenario for scenario in program.scenarios if scenario.name == name]
    near = exact or [scenario for scenario in program.scenarios if scenario.name.lower().startswith(name.lower())]
    if len(near) != 1:
        if not program.scenarios:
            raise KeyError("there is no scenario in these files")
        names = "; ".join(f'"{scenario.name}"' for scenario in near or program.scenarios) or "none"
        count = "more than one scenario begins" if near else "no scenario is called or begins"
        raise KeyError(f'{count} "{name}"; there are: {names}')
    return near[0]


def chart(
    path: Source,
    scenario: str | None = None,
    *,
    story: str | Path | None = None,
    for_ms: int | None = None,
    only: Iterable[str] = (),
) -> ChartResult:
    """A scenario, the first story of a file, or with neither a run in which nothing happens, as a strip chart.

    Raises as `run` does; `FilesWrongError` too where the story cannot be read.
    """
    program, chosen = _one_run(path, scenario, story, for_ms)
    strip = strip_of(program, chosen.story, chosen.name, only=frozenset(only), expectations=chosen.expectations)
    return ChartResult(strip)


def page(
    path: Source,
    scenario: str | None = None,
    *,
    story: str | Path | None = None,
    for_ms: int | None = None,
    only: Iterable[str] = (),
) -> str:
    """The same run as one HTML file to step through. Raises as `chart` does."""
    program, chosen = _one_run(path, scenario, story, for_ms)
    recording = recording_of(program, chosen.story, chosen.name, only=frozenset(only), expectations=chosen.expectations)
    name = path.sources[0].path if isinstance(path, Understanding) else path
    return replay_page(recording, f"Run of {Path(name).resolve().name}.")


def _one_run(
    path: Source, scenario: str | None, story: str | Path | None, for_ms: int | None
) -> tuple[Program, Scenario]:
    understood = understood_of(path)
    program = runnable(understood)
    if story is not None:
        told = _replayed(program, story)
        if not told.stories:
            raise FilesWrongError(told.diagnoses, understood.sources)
        chosen = replace(idle_scenario(0), name=told.scenarios[0].name, story=told.stories[0])
    else:
        chosen = idle_scenario(IDLE_MS) if scenario is None else scenario_of(program, scenario)
    if for_ms is not None:
        chosen = replace(chosen, story=replace(chosen.story, duration_ms=for_ms))
    return program, chosen


def replay(path: Source, story: str | Path) -> ReplayResult:
    """Run the `scenario` blocks of a story file again: which requirements do they violate, and when?

    `story` is the file's path. Raises `FilesWrongError` where the project cannot be run; what is
    wrong in the story file stands in the result's `diagnoses`.
    """
    return _replayed(runnable(path), story)


def _replayed(program: Program, story: str | Path) -> ReplayResult:
    reporter = Reporter(CATALOGUE)
    text = read_file_text(Path(story), str(story), reporter)
    if text is None:
        return ReplayResult((), (), reporter.sorted())
    return replay_story(program, text, Path(story).name)
