"""Verdicts as text: what was asked, what the formula asks, where it was looked for, what came out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from rungproof.logic.checks.spoken_of import names_in
from rungproof.logic.checks.story_text import NOWHERE
from rungproof.logic.checks.verdict import (
    IN_THE_MODEL,
    AssumptionResult,
    CheckResult,
    Disagreement,
    EnvelopeResult,
    ScenarioResult,
    Verdict,
)
from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.commands.account_text import print_ending
from rungproof.logic.commands.findings_text import findings_count
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.run_account import run_account
from rungproof.logic.meaning.program import Program, Scenario

CAUTIONS = (
    "A design aid, not a safety-rated tool. Emergency stop, guarding, two-hand control and overfill "
    "protection belong in hardwired, rated equipment. Verify on the real machine; local codes and "
    "licensed practice decide."
)

#: Instants of a story's end that are told below it.
MOST_ENDING = 16

#: Sentences of a proof that are printed; its certificate holds all of them.
MOST_BECAUSE = 6

#: Verdicts that somebody has to do something about.
_LOOK_AT = ("violated", "vacuous", "undecided")

_EXIT_WORDS = {
    0: "nothing violated, no finding of grade error",
    1: "something is violated",
    2: "a finding of grade error",
    3: "nothing violated, but something is undecided or vacuous",
}


def print_verdicts(screen: Screen, result: CheckResult, program: Program) -> None:
    """One block per requirement, with the hazards it stands against."""
    said = {hazard.name: f"{hazard.name} {hazard.sentence}" for hazard in program.hazards}
    against = {r.name: tuple(said.get(name, name) for name in r.against) for r in program.requirements}
    for verdict in result.verdicts:
        print_verdict(screen, verdict, program, against[verdict.requirement])


def print_verdict(screen: Screen, verdict: Verdict, program: Program, hazards: tuple[str, ...] = ()) -> None:
    """One verdict; a violated one with its story, and how the story goes."""
    screen.line(screen.strong(f"{verdict.requirement}  {verdict.word}"))
    screen.paragraph(f'"{verdict.sentence}"', indent=4)
    screen.labelled("restated", verdict.restatement)
    if hazards:
        screen.labelled("against", "; ".join(hazards))
    screen.labelled("looked", f"{verdict.looked_at}, {verdict.scope}")
    screen.labelled("result", verdict.reason)
    shown = verdict.plainly_because[:MOST_BECAUSE]
    for sentence in shown:
        screen.labelled("because", sentence)
    if len(verdict.because) > len(shown):
        more = f"and {len(verdict.because) - len(shown)} more" if shown else many(len(verdict.because), "sentence")
        screen.labelled("because", f"{more}; `--certificates DIR` has them all")
    if verdict.story_text is not None and verdict.scenario is None:
        screen.labelled("story", "a scenario to paste into the file, or to save and give to `rungproof replay`:")
        screen.line()
        for line in verdict.story_text.rstrip("\n").split("\n"):
            screen.line(line)
        screen.line()
        _print_ending(screen, verdict, program)
    screen.line()


def _print_ending(screen: Screen, verdict: Verdict, program: Program) -> None:
    """How the story ends, so that the violation is understood without running anything."""
    if verdict.story is None:
        return
    try:
        told = run_account(program, Scenario(verdict.requirement, verdict.story, (), NOWHERE))
    except ValueError:
        return
    requirement = next(r for r in program.requirements if r.name == verdict.requirement)
    screen.labelled("told", "the run, in the model:")
    print_ending(screen, told.account, names_in(requirement), most=MOST_ENDING)


def print_scenarios(screen: Screen, scenarios: Iterable[ScenarioResult]) -> None:
    for scenario in scenarios:
        print_scenario(screen, scenario)
        screen.line()


def print_scenario(screen: Screen, scenario: ScenarioResult) -> None:
    """Its name, what it expected and whether that came, and which requirements its run violates."""
    screen.paragraph(screen.strong(scenario.word) + f'  "{scenario.name}"')
    for expectation in scenario.expectations:
        screen.labelled(expectation.words, expectation.restatement)
        if expectation.seen:
            screen.labelled("seen", expectation.seen)
    if scenario.cut is not None:
        screen.labelled("cut", scenario.cut)
    for mention in scenario.mentions:
        screen.labelled("violates", f"{mention.requirement} at {time_words(mention.violated_at)}: {mention.words}")


def print_assumptions(screen: Screen, assumptions: Iterable[AssumptionResult]) -> None:
    """What was taken for granted, and how often it mattered: one that never did may say nothing."""
    for assumption in assumptions:
        screen.paragraph(f'assumed: "{assumption.sentence}"')
        screen.labelled("restated", assumption.restatement)
        screen.labelled("result", assumption.words)
        screen.line()


def print_envelope(screen: Screen, envelope: Iterable[EnvelopeResult]) -> None:
    """What proofs assume of the plant, who guarantees it, and whether the runs kept to it."""
    for each in envelope:
        screen.paragraph(f"assumption {each.number} of proofs: {each.sentence}")
        screen.labelled("guarantee", each.because)
        screen.labelled("result", each.words)
        if each.story_text is not None:
            screen.line()
            for line in each.story_text.rstrip("\n").split("\n"):
                screen.line(line)
        screen.line()


def print_internal_errors(screen: Screen, disagreements: Iterable[Disagreement]) -> None:
    for disagreement in disagreements:
        screen.paragraph(f"{disagreement.words} (`--json FILE` holds the bundle)")
        screen.line()


def print_where(screen: Screen) -> None:
    """Stands below everything that looks like a result."""
    screen.paragraph(IN_THE_MODEL)
    screen.paragraph(CAUTIONS)


def print_summary(screen: Screen, result: CheckResult, *, runnable: bool) -> None:
    """Where it all happened, the cautions, and the counts: the last thing on the screen."""
    if runnable:
        print_where(screen)
        screen.line()
    screen.labelled("findings", findings_count(result.diagnoses), indent=0)
    screen.labelled("requirements", _counts(result.verdicts), indent=0)
    if result.scenarios:
        met = Counter(scenario.word for scenario in result.scenarios)
        counts = ", ".join(f"{count} {word}" for word, count in met.items())
        screen.labelled("scenarios", f"{len(result.scenarios)}: {counts}", indent=0)
    searched = result.searched
    if searched.runs:
        cut = "; the time was out before the plan was done" if searched.cut_by_time else ""
        seconds = f"{searched.elapsed_s:.1f} s"
        words_run = f"{many(searched.runs, 'run')}, {span_words(searched.simulated_ms)} of machine time, in {seconds}"
        screen.labelled("searched", f"{words_run}; seed {searched.seed}{cut}", indent=0)
    words = _EXIT_WORDS[result.exit_code] if runnable else "the files cannot be run"
    screen.labelled("exit code", f"{result.exit_code}: {words}", indent=0)


def _counts(verdicts: Sequence[Verdict]) -> str:
    """`16: 13 simulated, 1 violated (R3), 2 undecided (R4, R5)`: names wherever somebody must look."""
    if not verdicts:
        return "none judged"
    said = []
    for word, count in Counter(verdict.word for verdict in verdicts).items():
        names = ", ".join(v.requirement for v in verdicts if v.word == word)
        said.append(f"{count} {word} ({names})" if word in _LOOK_AT else f"{count} {word}")
    return f"{len(verdicts)}: {', '.join(said)}"
