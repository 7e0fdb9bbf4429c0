"""`rungproof mutants PATH`: mistakes that people make, each killed, equal, refused, a survivor or undecided."""

from __future__ import annotations

from argparse import Namespace
from itertools import groupby
from pathlib import Path

from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.checks.words import many, time_words
from rungproof.logic.commands.errors import FILES_WRONG, CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import print_where
from rungproof.logic.mutants.result import MutantResult, MutantsResult
from rungproof.logic.verbs.questioning import mutants

#: How a fate is told, in a column of its own.
_WORDS = {"killed": "killed", "refused": "refused", "equal": "equal", "survivor": "SURVIVOR", "undecided": "undecided"}


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        try:
            with ProgressLine() as progress:
                result = mutants(
                    arguments.path, seed=arguments.seed, time_s=arguments.time, rungs=arguments.rungs, progress=progress
                )
        except KeyError as error:
            words = str(error.args[0])
            raise CommandError(f"{words[:1].upper()}{words[1:]}.") from error
        except FilesWrongError as error:
            screen.line(findings_text(error.diagnoses, error.sources, screen.width))
            found = findings_json(error.diagnoses)
            sources = sources_json(error.sources)
            output.write(arguments, FILES_WRONG, sources=sources, findings=found, mutants=[], refused=[], summary=None)
            return FILES_WRONG
        _print(screen, result)
        output.write(arguments, result.exit_code, sources=[], findings=[], **result.to_json())
    return result.exit_code


def _print(screen: Screen, result: MutantsResult) -> None:
    for rung, group in groupby(result.mutants, key=lambda each: each.rung):
        screen.line(screen.strong(rung))
        for each in group:
            _print_line(screen, each)
        screen.line()
    survivors = result.of("survivor")
    if survivors:
        screen.line(screen.strong("Survivors: nobody objects to these"))
        screen.line()
    for each in survivors:
        _print_survivor(screen, each)
    undecided = result.of("undecided")
    if undecided:
        screen.line(screen.strong("Undecided: no run told these from the original, and equality is not proved"))
        screen.line()
    for each in undecided:
        _print_undecided(screen, each)
    _print_summary(screen, result)
    print_where(screen)


def _print_line(screen: Screen, each: MutantResult) -> None:
    screen.labelled(_WORDS[each.fate], f"{each.number}  {each.change}{_by(each)}", column=14)


def _by(each: MutantResult) -> str:
    if each.fate == "killed":
        return f"; by {each.by} at {time_words(each.at_ms or 0)}"
    if each.fate == "refused":
        return f"; by the diagnosis {each.by}"
    return f"; {each.reason}" if each.fate in ("equal", "undecided") else ""


def _print_changed(screen: Screen, each: MutantResult) -> None:
    place = f"{Path(each.span.file).name}:{each.span.line}"
    screen.line(screen.strong(f"{each.number}  {each.rung}, {place}"))
    screen.labelled("change", each.change)
    for row in each.changed:
        screen.line(f"        {row}")
    if each.warned:
        screen.labelled("warned", f"the findings {', '.join(each.warned)} speak of it, which stops nobody")


def _print_undecided(screen: Screen, each: MutantResult) -> None:
    _print_changed(screen, each)
    screen.labelled("why", each.reason)
    screen.line()


def _print_survivor(screen: Screen, each: MutantResult) -> None:
    _print_changed(screen, each)
    screen.labelled("differs", each.differs or "")
    _block(screen, "story", each.story)
    if each.suggestion is not None:
        words = (
            "proved for the original"
            if each.suggestion.holds == "proved"
            else "the original keeps it in all stories at hand"
        )
        screen.labelled("suggestion", f"a {each.suggestion.kind} that would object to it; {words}")
        _block(screen, "", each.suggestion.text)
    screen.line()


def _block(screen: Screen, label: str, text: str | None) -> None:
    if label:
        screen.line(f"    {label}")
    for row in (text or "").rstrip().split("\n"):
        screen.line(f"        {row}")


def _print_summary(screen: Screen, result: MutantsResult) -> None:
    fates = {fate: len(result.of(fate)) for fate in ("killed", "survivor", "undecided", "equal", "refused")}
    told = ", ".join(
        (
            f"{fates['killed']} killed",
            many(fates["survivor"], "survivor"),
            *([f"{fates['undecided']} undecided"] if fates["undecided"] else []),
            f"{fates['equal']} equal",
            f"{fates['refused']} refused",
        )
    )
    screen.labelled("mutants", f"{len(result.mutants)}: {told}")
    if result.score is not None:
        there = fates["killed"] + fates["survivor"] + fates["undecided"]
        screen.labelled(
            "killed", f"{fates['killed']} of {there} that are neither refused nor equal, {result.score:.1%}"
        )
    if result.by():
        screen.labelled("by", ", ".join(f"{name} {count}" for name, count in result.by().items()))
    if result.failing:
        screen.labelled("mark", f"the original itself fails {', '.join(result.failing)}, so that kills nothing")
    stories = f"{many(result.stories, 'story').replace('storys', 'stories')} met by each, {many(result.runs, 'run')}"
    screen.labelled("tried", f"{stories} of search; {result.seconds:.0f} s; seed {result.seed}")
    screen.labelled("replayed", "every kill, in the reference engine")
    screen.line()
