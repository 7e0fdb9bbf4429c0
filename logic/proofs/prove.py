"""Every requirement of a program that can be proved or refuted for all inputs, decided as far as the time goes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.logic.meaning.program import Program, Requirement, Story
from rungproof.logic.proofs.exhaust import Tried
from rungproof.logic.proofs.job import Answers, Job, failed, job_of, work
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.refute import TooLongError, refutation
from rungproof.logic.proofs.run import Run
from rungproof.logic.proofs.system import System, requirement_system, why_not
from rungproof.logic.proofs.system_builder import beyond_stops
from rungproof.logic.proofs.workers import decide_all

ProofWord = Literal["proved", "exhausted", "vacuous", "violated", "breakable", "undecided", "declined"]
#: Called with the requirement that was decided, how many are, and how many there are.
ProofProgress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class ProofResult:
    """What is known of one requirement, for every input, scan time, power cut and parameter.

    proved      no run violates it: `invariant` says why, and a second solver agreed.
    exhausted   no run violates it: everything was `tried`, and counted.
    vacuous     proved, and its trigger never comes either.
    violated    `story` violates it at `violated_at` ms; the reference engine replayed it.
    breakable   with a plant: some course of the inputs breaks it (`run`); whether the plant can give them so is open.
    undecided   neither; `why` says what stands in the way.
    declined    not a matter for this prover; `why` says why.

    `depth`: no run of so many transitions (a scan each) violates it; for `violated` the transitions
    of `run`, the fewest possible where `shortest`. `triggered`: whether its trigger can come; None if not known.
    """

    requirement: str
    word: ProofWord
    why: str = ""
    engine: str = ""
    seconds: float = 0.0
    depth: int = 0
    invariant: Invariant | None = None
    triggered: bool | None = None
    run: Run | None = None
    shortest: bool = False
    story: Story | None = None
    violated_at: int | None = None
    tried: Tried | None = None


def prove_program(
    program: Program,
    *,
    time_s: float,
    only: Collection[str] | None = None,
    executor: Executor | None = None,
    progress: ProofProgress | None = None,
    workers: int | None = None,
    rationed: bool = False,
) -> dict[str, ProofResult]:
    """Decide the requirements of `program` (those in `only`, all if None), each within `time_s` seconds.

    Proofs run in processes of their own, which are killed where they overrun; with `executor` they
    run there, and their deadline is only kept between two questions to the solver. `rationed`: what is
    tried is measured in steps, not in seconds, so that the same comes out again; see `portfolio.MOST_STEPS`.
    """
    asked = [each for each in program.requirements if only is None or each.name in only]
    results: dict[str, ProofResult] = {}
    systems: list[System] = []
    for requirement in asked:
        system = _system(program, requirement)
        if isinstance(system, System):
            systems.append(system)
        else:
            results[requirement.name] = ProofResult(requirement.name, "declined", why=system)
    jobs = [job_of(system, time_s, rationed=rationed) for system in systems]
    for place, answers in _answers(jobs, executor, workers):
        system = systems[place]
        results[system.requirement] = _judged(program, system, answers)
        if progress is not None:
            progress(system.requirement, len(results), len(asked))
    return {each.name: results[each.name] for each in asked}


def _system(program: Program, requirement: Requirement) -> System | str:
    reason = why_not(program, requirement)
    return requirement_system(program, requirement) if reason is None else reason


def _answers(jobs: Sequence[Job], executor: Executor | None, workers: int | None) -> Iterator[tuple[int, Answers]]:
    if executor is None:
        yield from decide_all(jobs, workers)
        return
    places = {executor.submit(work, job): place for place, job in enumerate(jobs)}
    for future in as_completed(places):
        error = future.exception()
        yield places[future], future.result() if error is None else failed(f"the proof failed: {error}", 0.0, 0)


def _judged(program: Program, system: System, answers: Answers) -> ProofResult:
    bad, name = answers.bad, system.requirement
    if answers.tried is not None:
        return ProofResult(name, "exhausted", seconds=bad.seconds, depth=bad.depth, tried=answers.tried)
    found = ProofResult(name, "undecided", bad.why, bad.engine, bad.seconds, bad.depth)
    if bad.word == "proved":
        beyond = beyond_stops(program, next(each for each in program.requirements if each.name == name))
        return _proved(found, answers) if beyond is None else replace(found, why=beyond)
    if bad.word == "refuted" and bad.run is not None:
        return _refuted(program, system, found, answers)
    return found


def _proved(found: ProofResult, answers: Answers) -> ProofResult:
    invariant = Invariant(answers.bad.clauses)
    if answers.bad_objection:
        return replace(found, why=f"an invariant was found, but {answers.bad_objection}", invariant=invariant)
    triggered = True if answers.trigger.word == "refuted" else None
    if answers.trigger.word == "proved" and not answers.trigger_objection:
        return replace(found, word="vacuous", why="its trigger never comes", invariant=invariant, triggered=False)
    return replace(found, word="proved", why="", invariant=invariant, triggered=triggered)


def _refuted(program: Program, system: System, found: ProofResult, answers: Answers) -> ProofResult:
    run = answers.bad.run
    assert run is not None
    known = replace(found, run=run, shortest=answers.bad.shortest, triggered=True)
    if program.plant is not None:
        return replace(known, word="breakable", why="with its inputs free some course of them breaks it")
    try:
        shown = refutation(program, system, run)
    except TooLongError:
        return replace(known, why="what breaks it lasts too long without power to be replayed")
    if shown is None:
        return replace(known, why="internal error: the story found does not violate in the reference engine")
    return replace(known, word="violated", why="", story=shown.story, violated_at=shown.at)
