"""The verbs as functions: what the command line does, for Python and for notebooks.

A path is a folder (one project) or a `.rung` file with what it uses. Nothing here prints.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

from rungproof.grammar import tree
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.files import read_file_text
from rungproof.grammar.formatter import format_text
from rungproof.logic.api_results import ChartResult, FilesWrongError, FormatResult, FormattedFile, RunResult
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.replay import ReplayResult, replay_story
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.verdict import CheckResult, SearchFigures
from rungproof.logic.commands.output import write_file
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.drawing_text import WIDTH, Comments, Sheet, comments_of, draw_sheet, sheets_of
from rungproof.logic.evidence.drawn.index_page import drawn_files
from rungproof.logic.evidence.drawn.notes import notes_of
from rungproof.logic.evidence.drawn.references import references_of
from rungproof.logic.evidence.drawn.rung_svg import WIDTH as SVG_WIDTH
from rungproof.logic.evidence.drawn.rung_svg import Context
from rungproof.logic.evidence.replay.frames import recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.evidence.run_account import idle_scenario, run_account
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.faults.table import fault_table
from rungproof.logic.loops.loop import PATTERN_MS, LoopResult, loop_figures
from rungproof.logic.meaning.program import Program, Scenario
from rungproof.logic.meaning.project import Project, load_path
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.meaning.understand import understand as understand_path
from rungproof.logic.sheets.bench_sheets import BenchSheets, bench_sheets
from rungproof.logic.sheets.readings import TOLERANCE

if TYPE_CHECKING:
    from rungproof.logic.compare_results import CompareResult
    from rungproof.logic.coverage.result import CoverageResult
    from rungproof.logic.mutants.result import MutantsResult
    from rungproof.logic.proofs.certificate import Certificate
    from rungproof.logic.reaction_results import ReactionResult
    from rungproof.logic.report.evidence import Asked, Evidence, Part
from rungproof.logic.safety.independence import IndependenceResult, independence_of
from rungproof.logic.safety.restart import RestartResult, restart_of

if TYPE_CHECKING:
    from rungproof.logic.teaching.exercise import Exercise
    from rungproof.logic.teaching.grade import Grade

#: Seconds that a proof of one requirement may take, if nobody says otherwise.
PROVE_S = 4.0

#: How long a run without a scenario lasts, in milliseconds, if nobody says otherwise.
IDLE_MS = 10_000


def understand(path: str | Path) -> Understanding:
    """Read a project: its Program (None if it cannot be run), its diagnoses, its sources. Raises nothing."""
    return understand_path(Path(path))


def check(
    path: str | Path,
    *,
    seed: int = 0,
    time_s: float | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
    prove_s: float | None = None,
    hours: float | None = None,
    record: str | Path | None = None,
) -> CheckResult:
    """Find mistakes in the text and attack every requirement.

    Args: `seed`, a whole number, of all that is drawn by chance; `time_s`, seconds to search
    (a plan for 11.5, cut after 26); `progress`, called with runs done, runs planned and words; `executor`, any, to
    search on; `prove_s`, seconds to try a proof of each requirement first (4; 0 leaves it out);
    `hours`, so many plant-hours of long runs beyond the plan, kept in the file `record` (one beside
    the project) so that a check that was ended goes on. Files that cannot be run give a result without
    verdicts, with exit code 2. Raises `RecordError` where the record is of something else.
    """
    return check_understood(
        understand(path),
        seed=seed,
        time_s=time_s,
        progress=progress,
        executor=executor,
        prove_s=prove_s,
        hours=hours,
        record=record_beside(path) if record is None else record,
    )


def record_beside(path: str | Path) -> Path:
    """Where a long campaign keeps its record: `campaign.jsonl` in the folder, `NAME.campaign.jsonl` beside a file."""
    where = Path(path)
    return where / "campaign.jsonl" if where.is_dir() else where.with_suffix(".campaign.jsonl")


def check_understood(
    understood: Understanding,
    *,
    seed: int = 0,
    time_s: float | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
    prove_s: float | None = None,
    hours: float | None = None,
    record: str | Path | None = None,
) -> CheckResult:
    """`check` of what has been read already; `hours` need a `record`."""
    if understood.program is None:
        nothing = SearchFigures(seed, "none", planned_runs=0, runs=0, simulated_ms=0, longest_run_ms=0)
        return CheckResult((), (), (), nothing, understood.diagnoses)
    return check_program(
        understood.program,
        seed=seed,
        time_s=time_s,
        progress=progress,
        executor=executor,
        diagnoses=understood.diagnoses,
        prove_s=PROVE_S if prove_s is None else prove_s,
        hours=hours,
        record=None if record is None else Path(record),
    )


def faults(
    path: str | Path,
    *,
    seed: int = 0,
    pairs: bool = False,
    replay: bool = False,
    progress: Progress | None = None,
    workers: int | None = None,
) -> FaultTable:
    """Try every fault that the model knows: what shows it, what the plant does, what breaks.

    Args: `seed`, of what is drawn by chance; `pairs`, two independent faults too, a hidden one first;
    `replay`, run every row's story again in the reference engine; `progress`, called with faults done,
    faults in all and a name; `workers`, processes (as many as processors). Raises `FilesWrongError`
    where the files cannot be run.
    """
    return faults_understood(
        understand(path), seed=seed, pairs=pairs, replay=replay, progress=progress, workers=workers
    )


def faults_understood(
    understood: Understanding,
    *,
    seed: int = 0,
    pairs: bool = False,
    replay: bool = False,
    progress: Progress | None = None,
    workers: int | None = None,
) -> FaultTable:
    """`faults` of what has been read already."""
    program = _runnable(understood)
    return fault_table(program, seed=seed, pairs=pairs, replay=replay, progress=progress, workers=workers)


def run(
    path: str | Path,
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
    program = _runnable(understand(path))
    chosen = idle_scenario(IDLE_MS) if scenario is None else scenario_of(program, scenario)
    return run_program(program, chosen, for_ms=for_ms, every_ms=every_ms, only=frozenset(only), seed=seed)


def chart(
    path: str | Path,
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
    path: str | Path,
    scenario: str | None = None,
    *,
    story: str | Path | None = None,
    for_ms: int | None = None,
    only: Iterable[str] = (),
) -> str:
    """The same run as one HTML file to step through. Raises as `chart` does."""
    program, chosen = _one_run(path, scenario, story, for_ms)
    recording = recording_of(program, chosen.story, chosen.name, only=frozenset(only), expectations=chosen.expectations)
    return replay_page(recording, f"Run of {Path(path).resolve().name}.")


def _one_run(
    path: str | Path, scenario: str | None, story: str | Path | None, for_ms: int | None
) -> tuple[Program, Scenario]:
    understood = understand(path)
    program = _runnable(understood)
    if story is not None:
        told = replay_story(program, Path(story).read_text(encoding="utf-8"), Path(story).name)
        if not told.stories:
            raise FilesWrongError(told.diagnoses, understood.sources)
        chosen = replace(idle_scenario(0), name=told.scenarios[0].name, story=told.stories[0])
    else:
        chosen = idle_scenario(IDLE_MS) if scenario is None else scenario_of(program, scenario)
    if for_ms is not None:
        chosen = replace(chosen, story=replace(chosen.story, duration_ms=for_ms))
    return program, chosen


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
        names = "; ".join(f'"{scenario.name}"' for scenario in near or program.scenarios) or "none"
        count = "more than one scenario begins" if near else "no scenario is called or begins"
        raise KeyError(f'{count} "{name}"; there are: {names}')
    return near[0]


def independence(path: str | Path) -> IndependenceResult:
    """For each hazard its layers (circuit, program, operator), what defeats each, and what they share.

    Computed from circuits, rungs and wiring. Raises `FilesWrongError` where the files cannot be run.
    """
    return independence_of(_runnable(understand(path)))


def loop(
    path: str | Path, *, seed: int = 0, pattern_ms: int = PATTERN_MS, recorded: Sequence[float] = (), band: float = 0.02
) -> LoopResult:
    """Every `pi` loop's figures under a step, a random and (given `recorded`) a recorded draw-off of `pattern_ms` each.

    `band`: the share of the setpoint within which it counts as settled. Raises `FilesWrongError` where the files
    cannot be run.
    """
    program = _runnable(understand(path))
    return loop_figures(program, seed=seed, pattern_ms=pattern_ms, recorded=recorded, band=band)


def restart(path: str | Path, *, time_s: float | None = None) -> RestartResult:
    """For each thing that moves: does anything but a fresh, deliberate action start it again?

    Power return, stops, emergency stop release, modes, parameters, faults that clear, resets; with start buttons let
    go, held and pressed meanwhile. `time_s`: seconds to look (120). Raises `FilesWrongError` where the files cannot
    be run.
    """
    return restart_of(_runnable(understand(path)), time_s=time_s)


def replay(path: str | Path, story: str | Path) -> ReplayResult:
    """Run the `scenario` blocks of a story file again: which requirements do they violate, and when?

    `story` is the file's path. Raises `FilesWrongError` where the project cannot be run; what is
    wrong in the story file stands in the result's `diagnoses`.
    """
    program = _runnable(understand(path))
    reporter = Reporter(CATALOGUE)
    text = read_file_text(Path(story), str(story), reporter)
    if text is None:
        return ReplayResult((), (), reporter.sorted())
    return replay_story(program, text, Path(story).name)


def compare(
    old: str | Path,
    new: str | Path,
    *,
    time_s: float | None = None,
    seed: int = 0,
    certificates: Mapping[str, Certificate] | None = None,
) -> CompareResult:
    """Two versions of a controller: proved equal at every output that both have, or told apart by a story.

    Args: `time_s`, seconds to try (20); `certificates`, of which it is said whether they still stand in
    `new`. Raises `FilesWrongError` where either cannot be run.
    """
    before, now = _runnable(understand(old)), _runnable(understand(new))
    from rungproof.logic.compare_results import compare_understood

    return compare_understood(before, now, time_s=time_s, seed=seed, certificates=certificates or {})


def reaction(path: str | Path, *, prove_s: float | None = None) -> ReactionResult:
    """How long it takes at the most from a cause to its effect, for each requirement that says within what time.

    Args: `prove_s`, seconds for each proof (2). Raises `FilesWrongError` where the files cannot be run.
    """
    from rungproof.logic.reaction_results import reaction_of

    return reaction_of(_runnable(understand(path)), prove_s=prove_s)


def draw(path: str | Path, rungs: Iterable[str] = (), *, width: int = WIDTH, references: bool = False) -> str:
    """Rungs as text, one to one with the file, in the symbols of IEC 61131-3.

    Args: `rungs`, names (all); `width`, columns; `references`: below each rung stands what its names are, and
    where else they are written and read. Raises `FilesWrongError` where a line cannot
    be read, because a drawing must not lack one; `KeyError` for a rung that is not there.
    """
    return drawing_of(read_to_draw(path), rungs, width=width, references=references)


def draw_svg(path: str | Path, rungs: Iterable[str] = (), *, width: float = SVG_WIDTH) -> dict[str, str]:
    """Rungs as SVG, one to one with the file: file names to texts, `index.html` and a file for each rung.

    Args: `rungs`, names (all); `width`, CSS pixels between the rails. Raises as `draw` does.
    """
    return svg_files_of(read_to_draw(path), rungs, width=width)


def read_to_draw(path: str | Path) -> Project:
    """Read a project line by line, whatever it means. Raises `FilesWrongError` for an unreadable line."""
    reporter = Reporter(CATALOGUE)
    project = load_path(Path(path), reporter)
    if reporter.has_errors:
        raise FilesWrongError(reporter.sorted(), project.sources)
    return project


def drawing_of(project: Project, rungs: Iterable[str] = (), *, width: int = WIDTH, references: bool = False) -> str:
    """`draw` of what has been read already."""
    comments = _comments(project)
    used = references_of(project.blocks, comments) if references else {}

    def told(rung: tree.Rung) -> list[str]:
        return [f"{note.name} (line {note.line}): {'; '.join(note.words)}" for note in notes_of(rung, used, {})]

    return "\n".join(
        draw_sheet(sheet, width=width, comments=comments, references=told if references else None)
        for sheet in _sheets(project, rungs)
    )


def svg_files_of(project: Project, rungs: Iterable[str] = (), *, width: float = SVG_WIDTH) -> dict[str, str]:
    """`draw_svg` of what has been read already."""
    names = [block.name for block in project.blocks if isinstance(block, tree.Controller | tree.Plant)]
    context = Context.of(project.blocks, _comments(project))
    return drawn_files(_sheets(project, rungs), context, f"Rungs of {names[0] if names else 'a project'}", width=width)


def _sheets(project: Project, rungs: Iterable[str]) -> list[Sheet]:
    """The sheets that hold a rung of the names in `rungs` (empty: all), each with those alone."""
    sheets = sheets_of(project.blocks)
    wanted = list(rungs)
    known = {rung.name for sheet in sheets for rung in sheet.rungs}
    for name in wanted:
        if name not in known:
            raise KeyError(f"no rung is called `{name}`; there are: {', '.join(sorted(known)) or 'none'}")
    if wanted:
        sheets = [replace(s, rungs=tuple(r for r in s.rungs if r.name in wanted)) for s in sheets]
    return [sheet for sheet in sheets if sheet.rungs]


def _comments(project: Project) -> Comments:
    return comments_of((source.path, source.text) for source in project.sources)


def sheets(path: str | Path, *, tolerance: float = TOLERANCE) -> BenchSheets:
    """What a person with a meter checks: wiring, readings, causes and effects, tests.

    `tolerance` is that of analog readings, in percent of the span. Raises `FilesWrongError`
    where the files cannot be run.
    """
    return bench_sheets(_runnable(understand(path)), tolerance=tolerance)


def evidence(
    path: str | Path,
    *,
    seed: int = 0,
    without: Collection[Part] = (),
    whole: Collection[Part] = (),
    progress: Progress | None = None,
) -> Evidence:
    """All that the evidence report tells: an unhurried check, faults, restarts, coverage, drawings, charts, layers.

    No clock bounds it: the same files, seed and versions give the same; header_tank takes about a minute. `without`:
    parts to leave out, `whole`: parts to look at for as long as their own commands do. Raises `FilesWrongError`
    where the files cannot be run.
    """
    understood = understand(path)
    _runnable(understood)
    return evidence_of(understood, read_to_draw(path), seed=seed, without=without, whole=whole, progress=progress)


def evidence_of(understood: Understanding, project: Project, **asked: Unpack[Asked]) -> Evidence:
    """`evidence` of what has been read already."""
    from rungproof.logic.report.evidence import gather

    return gather(understood, project, **asked)


def format(path: str | Path, *, check: bool = False) -> FormatResult:
    """Lay all files of a project out in the one way; with `check` change nothing.

    A file with mistakes is left as it is, and the result's `diagnoses` say why. Raises
    `CommandError` where a file cannot be written; each file is written whole or not at all.
    """
    reporter = Reporter(CATALOGUE)
    project = load_path(Path(path), reporter)
    files = []
    for source in project.sources:
        own = Reporter(CATALOGUE)
        text = format_text(source.text, source.path, own)
        reporter.found.extend(own.found)
        changed = text is not None and text.encode("utf-8") != Path(source.path).read_bytes()
        if changed and text is not None and not check:
            write_file(source.path, text)
        files.append(FormattedFile(source.path, text, changed))
    return FormatResult(tuple(files), reporter.sorted(), tuple(project.sources))


def grade(
    exercise: str | Path | Exercise,
    submissions: Iterable[str | Path],
    *,
    seed: int = 0,
    reveal: bool = False,
    variants: bool = False,
) -> list[Grade]:
    """Grade what students handed in (`.rung` files or folders), each in a process of its own with limits.

    `reveal` leaves in what hidden requirements say. Raises `ExerciseError` where the exercise itself is wrong.
    """
    from rungproof.logic.teaching.exercise import Exercise, load_exercise
    from rungproof.logic.teaching.handed import handed_in
    from rungproof.logic.teaching.sandbox import grade_all

    loaded = exercise if isinstance(exercise, Exercise) else load_exercise(Path(exercise))
    grades = grade_all(loaded, handed_in(Path(each) for each in submissions), seed=seed, variants=variants)
    return grades if reveal else [each.concealed() for each in grades]


def _runnable(understood: Understanding) -> Program:
    if understood.program is None:
        raise FilesWrongError(understood.diagnoses, understood.sources)
    return understood.program


def mutants(
    path: str | Path,
    *,
    seed: int = 0,
    time_s: float | None = None,
    rungs: Iterable[str] = (),
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> MutantsResult:
    """Put every mistake of a kind that people make into the files, and see who objects.

    Args: `time_s`, seconds of the search for stories that every mutant meets (10); each that survives them gets
    a search of its own, in proportion. `rungs`, names of rungs (or of tags that are retained) to change (all);
    `seed`, of all searches; `executor`, any, to work on (two processes of our own). Raises `FilesWrongError`
    where the files cannot be run, `KeyError` for a rung that has no mutant.
    """
    from rungproof.logic.mutants.hunt import SUITE_S, hunt
    from rungproof.logic.mutants.judge import SEARCH_S

    project, understood = _read_to_change(path)
    folder = Path(path) if Path(path).is_dir() else Path(path).parent
    more = {} if time_s is None else {"suite_s": time_s, "search_s": SEARCH_S * time_s / SUITE_S}
    return hunt(project, understood, folder, seed=seed, rungs=rungs, progress=progress, executor=executor, **more)


def _read_to_change(path: str | Path) -> tuple[Project, Understanding]:
    """A project's tree and what it means. Raises `FilesWrongError` where it cannot be run."""
    understood = understand(path)
    _runnable(understood)
    return load_path(Path(path), Reporter(CATALOGUE)), understood


def coverage(
    path: str | Path,
    *,
    seed: int = 0,
    time_s: float | None = None,
    prove_s: float | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> CoverageResult:
    """Which rows of every rung's conditions the scenarios and a search reach, which can never come, which are missing.

    Args: `time_s`, planned seconds of the search (8); `prove_s`, seconds to try a proof that a missing row
    cannot come (2; 0 leaves it out). Raises `FilesWrongError` where the files cannot be run.
    """
    from rungproof.logic.coverage import measure as measuring

    project, understood = _read_to_change(path)
    return measuring.measure(
        project,
        _runnable(understood),
        seed=seed,
        time_s=measuring.SEARCH_S if time_s is None else time_s,
        prove_s=measuring.PROVE_S if prove_s is None else prove_s,
        progress=progress,
        executor=executor,
    )
