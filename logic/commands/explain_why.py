"""`rungproof explain PATH --why TAG`: the chain from a value back to the inputs that caused it."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.files import read_file_text
from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.checks.replay import replay_story
from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.checks.words import time_words
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.teaching.causes import Change
from rungproof.logic.teaching.why import Line, Why, why
from rungproof.logic.teaching.why_words import cause_words, link_words, unit_of, value_words
from rungproof.logic.verbs.reading import understand
from rungproof.logic.verbs.running import scenario_of

#: Instants beyond which a story is too long to be kept scan by scan.
LONGEST = 2_000_000


def explain_why(screen: Screen, path: str, arguments: Namespace) -> dict[str, Any]:
    """Print why a tag has its value; the same for JSON. Raises `CommandError` for what is not there."""
    understood = understand(path)
    if understood.program is None:
        raise CommandError(str(FilesWrongError(understood.diagnoses, understood.sources)).strip())
    program = understood.program
    story, called = _story(program, arguments)
    at_ms = story.duration_ms if arguments.at_ms is None else arguments.at_ms
    _fitting(program, arguments.why, story, at_ms)
    found = why(program, story, arguments.why, at_ms)
    _print(screen, program, found, called)
    return _json(program, found, called)


def _story(program: Program, arguments: Namespace) -> tuple[Story, str]:
    if arguments.story is not None:
        reporter = Reporter(CATALOGUE)
        text = read_file_text(Path(arguments.story), arguments.story, reporter)
        result = replay_story(program, text, Path(arguments.story).name) if text is not None else None
        if result is None or not result.stories:
            said = [*reporter.sorted(), *(result.diagnoses if result is not None else ())]
            words = said[0].message if said else f"{arguments.story} holds no `scenario` block."
            raise CommandError(words, "A story is what `rungproof check PATH --stories DIR` writes.")
        return result.stories[0], result.scenarios[0].name
    try:
        scenario = scenario_of(program, arguments.scenario or "")
    except KeyError as error:
        words = str(error.args[0])
        mend = "Name one with --scenario, or a story file with --story."
        raise CommandError(f"{words[:1].upper()}{words[1:]}.", mend) from error
    return scenario.story, scenario.name


def _fitting(program: Program, name: str, story: Story, at_ms: int) -> None:
    controller = program.controller
    if controller is None:
        raise CommandError("There is no controller here, so no tag has a value.")
    names = sorted({*controller.tags, *controller.stages})
    if name not in names:
        raise CommandError(f"No tag or stage is called {name}.", f"There are: {', '.join(names)}.")
    if at_ms > story.duration_ms:
        raise CommandError(f"The story ends at {time_words(story.duration_ms)}.", "Ask about a time before that.")
    step = program.plant.tick if program.plant is not None else controller.scan_low
    if at_ms // step > LONGEST:
        raise CommandError("That is too far into the story to keep every scan of it.", "Ask about an earlier time.")


def _print(screen: Screen, program: Program, found: Why, called: str) -> None:
    causes = found.causes
    value = value_words(causes.value, unit_of(program, causes.name))
    screen.line(screen.strong(f"{causes.name} is {value} at {time_words(causes.at_ms)}"))
    screen.paragraph(f'in the story "{called}"; in the model, nothing was measured on a machine', 4)
    screen.line()
    screen.line("the chain back, newest first")
    for link in found.links:
        screen.labelled(f"{link.since_ms / 1000:.3f} s", link_words(program, link), column=16, indent=2)
        for line in link.lines:
            screen.labelled("", _line_words(line), column=20)
        for line in link.held:
            screen.labelled("", f"held since by {_line_words(line)}", column=20)
    if found.cut:
        screen.labelled("", "... and further back; ask about one of these tags.", column=16, indent=2)
    screen.line()
    screen.line("caused by (each was changed, and the story run again)")
    for cause in causes.causes:
        screen.paragraph(cause_words(program, cause, causes.name), 4)
    if not causes.causes:
        screen.paragraph(f"No single change of an input, of those tried in {causes.runs} runs, gives another value.", 4)
    if causes.cut:
        screen.paragraph(f"There may be more: {causes.runs} runs were spent.", 4)


def _line_words(line: Line) -> str:
    return f"{Path(line.span.file).name}:{line.span.line}  {line.words}"


def _json(program: Program, found: Why, called: str) -> dict[str, Any]:
    causes = found.causes
    return {
        "note": IN_THE_MODEL,
        "tag": causes.name,
        "at_ms": causes.at_ms,
        "value": causes.value,
        "story": called,
        "chain": [
            {
                "tag": link.name,
                "value": link.value,
                "since_ms": link.since_ms,
                "rung": link.rung,
                "words": link_words(program, link),
                "lines": [_line_json(line) for line in link.lines],
                "held_by": [_line_json(line) for line in link.held],
            }
            for link in found.links
        ],
        "chain_cut": found.cut,
        "causes": [
            {
                "words": cause_words(program, cause, causes.name),
                "becomes": cause.becomes,
                "changes": [_change_json(change) for change in cause.changes],
            }
            for cause in causes.causes
        ],
        "runs": causes.runs,
        "runs_spent": causes.cut,
    }


def _line_json(line: Line) -> dict[str, Any]:
    return {"file": line.span.file, "line": line.span.line, "words": line.words}


def _change_json(change: Change) -> dict[str, Any]:
    return {
        "key": change.key,
        "was": change.was,
        "from_ms": change.from_ms,
        "until_ms": change.until_ms,
        "instead": change.instead,
        "changed_from_ms": change.changed_from_ms,
        "changed_until_ms": change.changed_until_ms,
    }
