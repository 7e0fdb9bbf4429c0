"""The stories that mutants are run against: the file's scenarios, and what a search of the original reached."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.checks.scenarios import why_apart
from rungproof.logic.checks.search import Progress
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.coverage.campaign import campaign_of, most_useful
from rungproof.logic.coverage.instrument import instrument
from rungproof.logic.coverage.requirement_marks import marked
from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.meaning.program import Program, Story

#: Machine time of all chosen stories together (ms), beside the file's scenarios.
MOST_MS = 1_200_000


@dataclass(frozen=True, slots=True)
class Attack:
    """One story, the requirements that it may speak of, and its scenario's number if it is one of the file."""

    story: Story
    watch: frozenset[str]
    scenario: int | None = None


@dataclass(frozen=True, slots=True)
class Objection:
    """Who objects to a run: a requirement, or an expectation of a scenario (`scenario` is its name).

    `at_ms` is the instant of violation; for an expectation the instant the run ended.
    """

    by: str
    story: Story
    at_ms: int
    scenario: str | None = None


@dataclass(frozen=True, slots=True)
class Suite:
    """`failing` are the requirements and expectations that the original itself does not hold: they kill nothing."""

    attacks: tuple[Attack, ...]
    failing: frozenset[str]
    runs: int


def scenario_word(name: str) -> str:
    return f'scenario "{name}"'


def suite_of(
    program: Program,
    seed: int,
    time_s: float,
    requirements: frozenset[str],
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Suite:
    """The scenarios, then the stories that together reach all that a search of `time_s` (planned) reached.

    What is reached is measured as coverage: rows of decisions, marks of stages, last states.
    `requirements`: those that a mutant could violate; the others are not watched.
    """
    attacks, failing, runs = _scenario_attacks(program, requirements)
    instrumented = instrument(program)
    if not program.requirements:  # a search wants something to look for, be it what never comes
        instrumented = replace(instrumented, program=marked(instrumented.program))
    found = campaign_of(instrumented, seed=seed, time_s=time_s, executor=executor, progress=progress)
    failing |= found.violated & requirements
    for story, watch in most_useful(found.stories, MOST_MS):
        if watch & requirements or not program.requirements:
            attacks.append(Attack(story, watch & requirements))
    return Suite(tuple(attacks), frozenset(failing), runs + found.runs)


def _scenario_attacks(program: Program, requirements: frozenset[str]) -> tuple[list[Attack], set[str], int]:
    attacks, failing = [], set()
    for place, scenario in enumerate(program.scenarios):
        watch = frozenset(
            r.name
            for r in program.requirements
            if r.name in requirements and why_apart(program, r, scenario.story) is None
        )
        attacks.append(Attack(scenario.story, watch, place))
        outcome = fast_engine().run(program, scenario.story, scenario=place)
        failing |= {n for n, judged in outcome.judgements.items() if n in watch and judged.violated_at is not None}
        if False in outcome.expectations:
            failing.add(scenario_word(scenario.name))
    return sorted(attacks, key=lambda attack: attack.story.duration_ms), failing, len(attacks)


def attacked(program: Program, attacks: Sequence[Attack], failing: frozenset[str]) -> Objection | None:
    """The first objection to a program that the attacks bring, in their order.

    A story that moves what the mutant no longer has (the wire of an output that nobody reads) is left out.
    """
    for attack in attacks:
        if not fits(program, attack.story):
            continue
        objection = objection_to(fast_engine(), program, attack, failing)
        if objection is not None:
            return objection
    return None


def fits(program: Program, story: Story) -> bool:
    """Whether everything that a story moves is there."""
    keys = [event.key for event in story.events] + [key for key, _ in story.parameters]
    return all(key in program.knobs for key in keys)


def objection_to(engine: Engine, program: Program, attack: Attack, failing: frozenset[str]) -> Objection | None:
    """Who objects to a program's run of one attack, the earliest first; None if nobody does."""
    watch = attack.watch - failing
    outcome = engine.run(program, attack.story, watch=watch, scenario=attack.scenario, stop_at_violation=True)
    return objection_in(program, attack, outcome, failing)


def objection_in(program: Program, attack: Attack, outcome: Outcome, failing: frozenset[str]) -> Objection | None:
    """The same of a run that has been made. Of two at one instant the requirement that stands first objects."""
    violated = [(j.violated_at, name) for name, j in outcome.judgements.items() if j.violated_at is not None]
    if violated:
        at = min(instant for instant, _ in violated)
        order = [r.name for r in program.requirements]
        name = min((name for instant, name in violated if instant == at), key=order.index)
        return Objection(name, ended_at(attack.story, at), at)
    if attack.scenario is not None and False in outcome.expectations:
        name = program.scenarios[attack.scenario].name
        if scenario_word(name) not in failing:
            return Objection(scenario_word(name), attack.story, outcome.ended_at, name)
    return None
