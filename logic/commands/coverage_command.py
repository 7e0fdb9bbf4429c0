"""`rungproof coverage PATH`: which conditions of every rung were shown to decide, beside the drawn rungs."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.checks.words import many, span_words
from rungproof.logic.commands.errors import FILES_WRONG
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import print_where
from rungproof.logic.coverage.result import CoverageResult
from rungproof.logic.coverage.text import requirements_text, rungs_text
from rungproof.logic.verbs.questioning import coverage
from rungproof.logic.verbs.reading import read_to_draw


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        try:
            with ProgressLine() as progress:
                result = coverage(
                    arguments.path,
                    seed=arguments.seed,
                    time_s=arguments.time,
                    prove_s=arguments.proof,
                    progress=progress,
                )
        except FilesWrongError as error:
            screen.line(findings_text(error.diagnoses, error.sources, screen.width))
            found = findings_json(error.diagnoses)
            output.write(arguments, FILES_WRONG, sources=sources_json(error.sources), findings=found, coverage=None)
            return FILES_WRONG
        project = read_to_draw(arguments.path)
        for row in rungs_text(result, project.blocks, width=screen.width):
            screen.line(row)
        _print_requirements(screen, result)
        _print_summary(screen, result)
        print_where(screen)
        told = sources_json(project.sources)
        output.write(arguments, result.exit_code, sources=told, findings=[], coverage=result.to_json())
    return result.exit_code


def _print_requirements(screen: Screen, result: CoverageResult) -> None:
    if not result.requirements:
        return
    screen.line(screen.strong("Requirements that wait for something"))
    for row in requirements_text(result.requirements):
        name, _, words = row.partition("  ")
        screen.labelled(name, words.strip(), column=12)
    screen.line()


def _print_summary(screen: Screen, result: CoverageResult) -> None:
    counts = result.counts()
    told = (
        f"{counts['scenarios']} shown by scenarios, {counts['campaign']} by the search, "
        f"{counts['unreachable']} proved out of reach, {counts['missing']} missing"
    )
    screen.labelled("conditions", f"{sum(counts.values())}: {told}")
    if result.score is not None:
        shown = counts["scenarios"] + counts["campaign"]
        screen.labelled("shown", f"{shown} of {shown + counts['missing']} that can come, {result.score:.1%}")
    screen.labelled(
        "how",
        "a condition is shown where two rows were seen that differ in it and in the outcome, and in nothing else "
        "(unique-cause MC/DC); rows stand in the order of the conditions, 1 is on",
    )
    screen.labelled(
        "tried", f"{many(result.runs, 'run')}, {span_words(result.simulated_ms)} in all; seed {result.seed}"
    )
    screen.line()
