"""Whether an answer keeps to what the exercise asks: proofs first, then a small search. Seconds, not minutes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.teaching.inline import Inline

#: Seconds to try a proof of one requirement; runs of each length of what is not proved.
PROVE_S, RUNS = 2.0, 80

#: Seconds that a search may take at most: what needs longer is left undecided.
SEARCH_S = 4.0

#: Runs of each length that a supposed mend must stand.
RUNS_TO_CONFIRM = 25


@dataclass(frozen=True, slots=True)
class Judged:
    """What is known of one requirement or scenario of an answer, and the story in which it fails."""

    name: str
    sentence: str
    restatement: str
    word: str
    reason: str = ""
    story: Story | None = None
    story_text: str | None = None
    at_ms: int = 0

    @property
    def fails(self) -> bool:
        return self.word in ("violated", "not as expected")

    @property
    def holds(self) -> bool:
        return self.word in ("proved", "exhausted", "simulated", "as expected", "expects nothing")


def judge(program: Program, seed: int = 0) -> tuple[Judged, ...]:
    """Every requirement and every scenario that expects something, in the order of the files."""
    proved = dict(_proved(program))
    left = tuple(each for each in program.requirements if each.name not in proved)
    searched = check_program(
        replace(program, requirements=left), seed=seed, time_s=SEARCH_S, runs=RUNS, executor=Inline()
    )
    for verdict in searched.verdicts:
        proved[verdict.requirement] = Judged(
            verdict.requirement,
            verdict.sentence,
            verdict.restatement,
            verdict.word,
            verdict.reason,
            verdict.story,
            verdict.story_text,
            verdict.violated_at or 0,
        )
    found = [proved[each.name] for each in program.requirements]
    for scenario, result in zip(program.scenarios, searched.scenarios, strict=True):
        if result.expectations:
            said = "; ".join(f"{each.restatement} ({each.words})" for each in result.expectations)
            text = story_block(program, scenario.story, scenario.name)
            found.append(
                Judged(
                    scenario.name,
                    scenario.name,
                    said,
                    result.word,
                    "",
                    scenario.story,
                    text,
                    scenario.story.duration_ms,
                )
            )
    return tuple(found)


def _searched(program: Program, runs: int, seed: int = 0) -> CheckResult:
    return check_program(program, seed=seed, time_s=SEARCH_S, runs=runs, executor=Inline())


def proved(program: Program, name: str) -> bool:
    """Whether a requirement is proved within a moment. For supposed mends only: no second solver is asked."""
    return _decided(program, name, PROVE_S / 4) == "proved"


def refuted(program: Program, name: str) -> bool:
    """Whether a story breaks a requirement: by proof where that decides it, else by a search."""
    word = _decided(program, name, PROVE_S / 2)
    if word != "unknown":
        return word == "refuted"
    left = tuple(each for each in program.requirements if each.name == name)
    found = check_program(
        replace(program, requirements=left, scenarios=()), time_s=SEARCH_S, runs=RUNS, executor=Inline()
    )
    return any(verdict.word == "violated" for verdict in found.verdicts)


def holds(program: Program, names: frozenset[str]) -> bool:
    """Whether these requirements hold in a supposed mend: by proof, and where there is none by a short search."""
    searched = []
    for name in sorted(names):
        word = _decided(program, name, PROVE_S / 2)
        if word == "refuted":
            return False
        if word != "proved":
            searched.append(name)
    if not searched:
        return True
    left = tuple(each for each in program.requirements if each.name in searched)
    found = _searched(replace(program, requirements=left, scenarios=()), RUNS_TO_CONFIRM)
    return all(verdict.word == "simulated" for verdict in found.verdicts)


def _decided(program: Program, name: str, time_s: float) -> str:
    """`proved`, `refuted` or `unknown`; with a plant, whose inputs the proof leaves free, a refutation says nothing."""
    from rungproof.logic.proofs.portfolio import decide
    from rungproof.logic.proofs.system import requirement_system, why_not

    requirement = next(each for each in program.requirements if each.name == name)
    if why_not(program, requirement) is not None:
        return "unknown"
    system = requirement_system(program, requirement)
    word = decide(system, system.bad, time_s).word
    return "unknown" if word == "refuted" and program.plant is not None else word


def _proved(program: Program) -> Iterator[tuple[str, Judged]]:
    """What a proof decides: held for every input, or violated by a story that the reference engine replays."""
    from rungproof.logic.proofs.prove import prove_program

    for name, result in prove_program(program, time_s=PROVE_S, executor=Inline()).items():
        requirement = next(each for each in program.requirements if each.name == name)
        judged = Judged(name, requirement.sentence, requirement.restatement, result.word)
        if result.word in ("proved", "vacuous") and result.invariant is not None:
            yield name, judged
        elif result.word == "violated" and result.story is not None and result.violated_at is not None:
            story = replace(tidy(program, result.story), duration_ms=result.violated_at)
            if _replays(program, story, name):
                text = story_block(program, story, f"violated at {time_words(story.duration_ms)}", name)
                yield name, replace(judged, story=story, story_text=text, at_ms=story.duration_ms)


def _replays(program: Program, story: Story, name: str) -> bool:
    outcome = reference_engine().run(program, story, watch=frozenset({name}))
    return outcome.judgements[name].violated_at == story.duration_ms
