"""The check run again with instruments that are off by what was measured.

Each analog instrument is off by the least and by the greatest error that was found, the same all the
time, and the requirements are attacked anew; of each, the worst verdict counts. An error that wanders
between its ends while the machine runs is not looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, CheckResult, Verdict, Word
from rungproof.logic.checks.words import rounded
from rungproof.logic.meaning.program import Program
from rungproof.logic.sheets.as_found import AsFound, AsFoundError, ErrorBand
from rungproof.plant.assembly import Assembly
from rungproof.plant.part import Part, PartError

#: Combinations of ends that are tried; with more inputs, all low and all high.
MOST_CASES = 4

#: From bad to good.
_WORST: tuple[Word, ...] = ("violated", "undecided", "vacuous", "simulated", "exhausted", "proved")


@dataclass(frozen=True, slots=True)
class AsFoundCase:
    """One combination of errors, by tag, in the signals' units, and what the check said with it."""

    errors: tuple[tuple[str, float, str], ...]
    result: CheckResult

    @property
    def words(self) -> str:
        told = [
            f"{tag} {'+' if error >= 0 else '-'}{rounded(abs(error), 4)} {unit}" for tag, error, unit in self.errors
        ]
        return ", ".join(told) or "no error"


@dataclass(frozen=True, slots=True)
class AsFoundResult:
    """The readings, each case, and of every requirement the worst verdict of all cases."""

    found: AsFound
    cases: tuple[AsFoundCase, ...]
    worst: CheckResult

    @property
    def exit_code(self) -> int:
        """As of a check; 1, too, where a reading lies outside its limits: the machine is not as the files say."""
        code = self.worst.exit_code
        return EXIT_VIOLATED if self.found.outside and code in (EXIT_FINE, EXIT_OPEN) else code


def check_as_found(
    program: Program,
    found: AsFound,
    *,
    seed: int = 0,
    time_s: float | None = None,
    prove_s: float = 0.0,
    progress: Progress | None = None,
    diagnoses: tuple[Diagnosis, ...] = (),
) -> AsFoundResult:
    """Check `program` with every combination of measured errors. Raises `AsFoundError` for an instrument whose
    signal cannot be moved."""
    cases = []
    for errors in _cases(found.bands):
        shifted = with_errors(program, {tag: error for tag, error, _ in errors})
        result = check_program(
            shifted, seed=seed, time_s=time_s, prove_s=prove_s, progress=progress, diagnoses=diagnoses
        )
        cases.append(AsFoundCase(errors, result))
    return AsFoundResult(found, tuple(cases), _worst_of(cases))


def _cases(bands: Sequence[ErrorBand]) -> list[tuple[tuple[str, float, str], ...]]:
    ends = [[(b.tag, error, b.unit) for error in dict.fromkeys((b.low, b.high))] for b in bands]
    every = list(product(*ends))
    return every if len(every) <= MOST_CASES else [tuple(each[0] for each in ends), tuple(each[-1] for each in ends)]


def with_errors(program: Program, errors: Mapping[str, float]) -> Program:
    """The program whose instruments send so much more than they should, by input tag, in the signals' units."""
    plant = program.plant
    moved = {tag: error for tag, error in errors.items() if error}
    if plant is None or not moved:
        return program
    sources = {wire.tag: wire.source for wire in plant.inputs}
    by_part = {str(sources[tag]).partition(".")[0]: (tag, error) for tag, error in moved.items()}
    parts = [_moved(part, *by_part[part.name]) if part.name in by_part else part for part in plant.assembly.parts]
    return replace(program, plant=replace(plant, assembly=Assembly(parts)))


def _moved(part: Part, tag: str, error: float) -> Part:
    for slot in ("voltage", "current"):
        ends = part.given.get(slot)
        if isinstance(ends, tuple) and len(ends) == 2:
            try:
                return type(part)(
                    part.name, {**part.given, slot: (float(ends[0]) + error, float(ends[1]) + error)}, part.dt_ms
                )
            except PartError as problem:
                words = f"{part.name} cannot be off by {rounded(error, 4)}: {problem.message}"
                raise AsFoundError(words) from problem
    words = f"{tag} comes from {part.name}, whose line names no range of a signal"
    raise AsFoundError(f"{words}: an error of it cannot be run")


def _worst_of(cases: Sequence[AsFoundCase]) -> CheckResult:
    first = cases[0].result
    verdicts = []
    for place in range(len(first.verdicts)):
        case = min(cases, key=lambda case: _WORST.index(case.result.verdicts[place].word))
        verdicts.append(_told_with(case, case.result.verdicts[place]))
    scenarios = [
        min((case.result.scenarios[place] for case in cases), key=lambda each: not each.violated)
        for place in range(len(first.scenarios))
    ]
    searched = replace(
        first.searched,
        planned_runs=sum(case.result.searched.planned_runs for case in cases),
        runs=sum(case.result.searched.runs for case in cases),
        simulated_ms=sum(case.result.searched.simulated_ms for case in cases),
        longest_run_ms=max(case.result.searched.longest_run_ms for case in cases),
        cut_by_time=any(case.result.searched.cut_by_time for case in cases),
        elapsed_s=sum(case.result.searched.elapsed_s for case in cases),
    )
    disagreements = tuple(each for case in cases for each in case.result.disagreements)
    return replace(
        first, verdicts=tuple(verdicts), scenarios=tuple(scenarios), searched=searched, disagreements=disagreements
    )


def _told_with(case: AsFoundCase, verdict: Verdict) -> Verdict:
    return replace(verdict, reason=f"with {case.words}: {verdict.reason}") if case.errors else verdict
