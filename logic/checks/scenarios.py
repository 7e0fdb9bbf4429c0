"""The file's own scenarios: run, their expectations judged, every requirement watched meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rungproof.logic.checks.confirm import confirm_each
from rungproof.logic.checks.engine_choice import fast_engine, name_of
from rungproof.logic.checks.expected_seen import ExpectedSeen
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.checks.stories import faults_of, frees_outputs
from rungproof.logic.checks.tally import Tally
from rungproof.logic.checks.verdict import Disagreement, ExpectationResult, Mention, ScenarioResult
from rungproof.logic.checks.words import time_words
from rungproof.logic.engines.contract import Engine, Outcome
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program, Requirement, Scenario, Story


@dataclass(frozen=True, slots=True)
class ScenarioRun:
    """A scenario's result with what the check needs besides.

    `violated` are the requirements that this run alone violates: story and instant (ms).
    """

    scenario: Scenario
    result: ScenarioResult
    outcome: Outcome
    violated: dict[str, tuple[Story, int]]
    disagreements: tuple[Disagreement, ...]


def run_scenario(
    program: Program, scenario: str | None = None, *, engine: Engine | None = None
) -> tuple[ScenarioResult, ...]:
    """Run one scenario by its name, or all. Raises `KeyError` for a name that none has."""
    chosen = [s for s in program.scenarios if scenario is None or s.name == scenario]
    if scenario is not None and not chosen:
        raise KeyError(scenario)
    return tuple(run.result for run in scenario_runs(program, engine, chosen))


def scenario_runs(program: Program, engine: Engine | None, chosen: Sequence[Scenario]) -> Iterator[ScenarioRun]:
    """Run scenarios one by one, on the given engine or the fast one.

    What is not met or violated is run again in the reference engine before it is believed.
    """
    searched = engine or fast_engine()
    for place, scenario in enumerate(program.scenarios):
        if scenario in chosen:
            outcome = searched.run(program, scenario.story, scenario=place)
            disagreements: list[Disagreement] = []
            seen = ExpectedSeen(scenario.expectations)
            if False in outcome.expectations:
                defined = ReferenceEngine(seen).run(program, scenario.story, scenario=place)
                if defined.expectations != outcome.expectations:
                    disagreements.append(_expectations_differ(program, scenario, outcome, defined, engine))
            yield _judged(program, scenario, outcome, engine, disagreements, seen=tuple(seen.words))


def _judged(
    program: Program,
    scenario: Scenario,
    outcome: Outcome,
    engine: Engine | None,
    disagreements: list[Disagreement],
    *,
    seen: Sequence[str],
) -> ScenarioRun:
    mentions = []
    violated: dict[str, tuple[Story, int]] = {}
    instants = {name: each.violated_at for name, each in outcome.judgements.items() if each.violated_at is not None}
    differ = confirm_each(program, scenario.story, instants, engine)
    for requirement in program.requirements:
        at = instants.get(requirement.name)
        if at is None:
            continue
        disagreement = differ[requirement.name]
        if disagreement is not None:
            disagreements.append(disagreement)
            continue
        apart = why_apart(program, requirement, scenario.story)
        mentions.append(Mention(requirement.name, at, apart is None, apart or "this run alone violates it"))
        if apart is None:
            violated[requirement.name] = (ended_at(scenario.story, at), at)
    expectations = tuple(
        ExpectationResult(expectation.restatement, met, words if met is False else "")
        for expectation, met, words in zip(scenario.expectations, outcome.expectations, seen, strict=True)
    )
    result = ScenarioResult(
        scenario.name, expectations, tuple(mentions), outcome.ended_at, _cut_words(program, outcome)
    )
    return ScenarioRun(scenario, result, outcome, violated, tuple(disagreements))


def why_apart(program: Program, requirement: Requirement, story: Story) -> str | None:
    """Why a run does not speak of a requirement, in words; None if it does."""
    faults = len(faults_of(program, story))
    if faults and not requirement.any_one_fault:
        return "not its verdict: a fault stands in this scenario, and the requirement allows for none"
    if faults_of(program, story) & program.excluded:
        return "not its verdict: the fault in this scenario is one that the file leaves out of account"
    if faults > 1:
        return "not its verdict: more than one fault stands in this scenario"
    if frees_outputs(program, story) and not requirement.outputs_free:
        return "not its verdict: this scenario drives the outputs in the program's place"
    return None


def _cut_words(program: Program, outcome: Outcome) -> str | None:
    if outcome.assumption_broken is None:
        return None
    place, at = outcome.assumption_broken
    return f'ended at {time_words(at)}, where "{program.assumptions[place].sentence}" no longer holds'


def _expectations_differ(
    program: Program, scenario: Scenario, outcome: Outcome, defined: Outcome, engine: Engine | None
) -> Disagreement:
    words = (
        f'internal error: the {name_of(engine)} and the reference engine differ in what scenario "{scenario.name}" '
        "meets; please report it with this bundle"
    )
    bundle = {
        "files": {source.path: source.text for source in program.sources},
        "scenario": scenario.name,
        "expectations": {name_of(engine): list(outcome.expectations), "reference": list(defined.expectations)},
    }
    return Disagreement(scenario.name, words, bundle)


def tally_of(program: Program, runs: Sequence[ScenarioRun]) -> Tally:
    """What the scenarios' runs say of the requirements that they may speak of."""
    tally = Tally()
    for run in runs:
        story = run.scenario.story
        counted = {
            requirement.name: run.outcome.judgements[requirement.name]
            for requirement in program.requirements
            if why_apart(program, requirement, story) is None
        }
        tally.take(program, story, replace(run.outcome, judgements=counted))
    return tally
