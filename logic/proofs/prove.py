"""Every requirement of a program that can be proved or refuted for all inputs, decided as far as the time goes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.logic.meaning.program import Program, Requirement, Story
from rungproof.logic.proofs.envelope import Fact
from rungproof.logic.proofs.exhaust import Tried
from rungproof.logic.proofs.job import Answers, Job, failed, job_of, work
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.refute import TooLongError, refutation
from rungproof.logic.proofs.run import Run
from rungproof.logic.proofs.system import System, why_not
from rungproof.logic.proofs.system_builder import beyond_stops
from rungproof.logic.proofs.tick_stories import replayed
from rungproof.logic.proofs.ways import FIRST_WAY, Way, facts_behind, further_ways, system_of
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
    `way`: how it was put to the prover; `facts`: what the plant must keep to for a proof in that way to count.
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
    way: Way = FIRST_WAY
    facts: tuple[Fact, ...] = ()


def prove_program(
    program: Program,
    *,
    time_s: float,
    only: Collection[str] | None = None,
    executor: Executor | None = None,
    progress: ProofProgress | None = None,
    workers: int | None = None,
    rationed: bool = False,
    further: bool = False,
) -> dict[str, ProofResult]:
    """Decide the requirements of `program` (those in `only`, all if None), each within `time_s` seconds.

    Proofs run in processes of their own, which are killed where they overrun; with `executor` they
    run there, and their deadline is only kept between two questions to the solver. `rationed`: what is
    tried is measured in steps, not in seconds, so that the same comes out again; see `portfolio.MOST_STEPS`.
    `further`: what is not decided is put to the prover in further ways, see `ways.py`; a proof that comes with
    `facts` counts only as long as the plant keeps to them, and whoever asks for it must see to that.
    """
    asked = [each for each in program.requirements if only is None or each.name in only]
    results = {each.name: _declined(program, each) for each in asked}
    courses = {each.name: _ways(program, each, further=further) for each in asked}
    judged = sum(bool(each.why) for each in results.values())
    while True:
        left = [each for each in asked if results[each.name].word not in _DECIDED]
        pending = [(each, way) for each in left if (way := next(courses[each.name], None)) is not None]
        if not pending:
            return results
        systems = [system_of(program, requirement, way) for requirement, way in pending]
        jobs = [
            _job(system, time_s * (LOOP_SHARE if way == "loop" else 1.0), rationed=rationed)
            for system, (_, way) in zip(systems, pending, strict=True)
        ]
        for place, answers in _answers(jobs, executor, workers):
            requirement, way = pending[place]
            result, known = _judged(program, systems[place], answers, way), results[requirement.name]
            if result.word in _DECIDED or _says_more(requirement, known, result):
                results[requirement.name] = result
            if progress is not None and way == FIRST_WAY:
                judged += 1
                progress(requirement.name, judged, len(asked))


def _says_more(requirement: Requirement, known: ProofResult, found: ProofResult) -> bool:
    """Whether what stands in the way of one more proof is the better word: where there was none; of a machine with
    one thing failed, of which the first way says nothing. Elsewhere the first way's reason is the one to get round."""
    nothing = known.word == "declined" and not known.why
    return nothing or (known.word == "declined" and (requirement.any_one_fault or found.word == "breakable"))


def _declined(program: Program, requirement: Requirement) -> ProofResult:
    """What stands until the prover has said something."""
    return ProofResult(requirement.name, "declined", why=why_not(program, requirement) or "")


def _ways(program: Program, requirement: Requirement, *, further: bool) -> Iterator[Way]:
    """The ways in which a requirement is tried, one after the other."""
    if why_not(program, requirement) is None:
        yield FIRST_WAY
    if further:
        yield from further_ways(program, requirement)


def _job(system: System, time_s: float, *, rationed: bool) -> Job:
    many = system.case in system.step.states
    return job_of(system, time_s * (MORE_BY_CASES if many else 1), rationed=rationed)


#: With the program in the loop little is decided that is not decided soon: it gets so much of the time. A system of
#: many cases gets so many times as long.
LOOP_SHARE, MORE_BY_CASES = 0.5, 4

#: Words that hold for all runs; and those that no other way can better.
_HELD = ("proved", "exhausted", "vacuous")
_DECIDED = (*_HELD, "violated")


def _answers(jobs: Sequence[Job], executor: Executor | None, workers: int | None) -> Iterator[tuple[int, Answers]]:
    if executor is None:
        yield from decide_all(jobs, workers)
        return
    places = {executor.submit(work, job): place for place, job in enumerate(jobs)}
    for future in as_completed(places):
        error = future.exception()
        yield places[future], future.result() if error is None else failed(f"the proof failed: {error}", 0.0, 0)


def _judged(program: Program, system: System, answers: Answers, way: Way) -> ProofResult:
    bad, name = answers.bad, system.requirement
    requirement = next(each for each in program.requirements if each.name == name)
    facts = facts_behind(program, requirement, way)
    if answers.tried is not None:
        exhausted = ProofResult(name, "exhausted", seconds=bad.seconds, depth=bad.depth, tried=answers.tried)
        return replace(exhausted, way=way, facts=facts)
    found = ProofResult(name, "undecided", bad.why, bad.engine, bad.seconds, bad.depth, way=way, facts=facts)
    if bad.word == "proved":
        beyond = beyond_stops(program, requirement) if way == FIRST_WAY else None
        return _proved(found, answers) if beyond is None else replace(found, why=beyond)
    if bad.word == "refuted" and bad.run is not None:
        if program.plant is not None:
            return _refuted_in_plant(program, system, found, answers)
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


def _refuted_in_plant(program: Program, system: System, found: ProofResult, answers: Answers) -> ProofResult:
    """With a plant a run need not be one of the plant's: it counts if the reference engine, given the plant's own
    amounts, sees it violate. Where no run of the system is bad sooner, no story violates sooner."""
    run = answers.bad.run
    assert run is not None
    requirement = next(each for each in program.requirements if each.name == found.requirement)
    known = replace(found, run=run, triggered=True)
    if requirement.instants == "tick":
        shown = replayed(program, requirement, system, run, looped=found.way == "loop")
        if shown is not None:
            story, at = shown
            shortest = answers.bad.shortest and at == (len(run.given) - 1) * system.tick
            return replace(known, word="violated", why="", story=story, violated_at=at, shortest=shortest)
    why = "with its inputs free some course of them breaks it"
    return replace(known, word="breakable", why=why, shortest=answers.bad.shortest)


def _refuted(program: Program, system: System, found: ProofResult, answers: Answers) -> ProofResult:
    run = answers.bad.run
    assert run is not None
    known = replace(found, run=run, shortest=answers.bad.shortest, triggered=True)
    try:
        shown = refutation(program, system, run)
    except TooLongError:
        return replace(known, why="what breaks it lasts too long without power to be replayed")
    if shown is None:
        return replace(known, why="internal error: the story found does not violate in the reference engine")
    return replace(known, word="violated", why="", story=shown.story, violated_at=shown.at)
