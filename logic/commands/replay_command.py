"""`rungproof replay PATH STORY`: does the story still violate?"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.grammar.files import read_file_text
from rungproof.logic.checks.replay import ReplayResult, replay_story
from rungproof.logic.checks.story_text import NOWHERE
from rungproof.logic.checks.words import time_words
from rungproof.logic.commands.account_text import print_account
from rungproof.logic.commands.errors import FILES_WRONG, CommandError
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.picture_output import PictureOutput
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.telling import told
from rungproof.logic.commands.verdict_text import print_scenario, print_where
from rungproof.logic.commands.waveform_output import WaveformOutput
from rungproof.logic.meaning.program import Program, Scenario, SourceText
from rungproof.logic.verbs.reading import understand


def execute(arguments: Namespace) -> int:
    with (
        JsonOutput.of(arguments) as output,
        WaveformOutput.of(arguments) as waveforms,
        PictureOutput.of(arguments) as pictures,
    ):
        screen = Screen.standard(quiet=output.takes_screen)
        reporter = Reporter(CATALOGUE)
        story = Path(arguments.story)
        text = read_file_text(story, arguments.story, reporter)
        if text is None:
            return _refuse(arguments, screen, output, reporter.sorted(), ())
        understood = understand(arguments.path)
        if understood.program is None:
            return _refuse(arguments, screen, output, understood.diagnoses, understood.sources)
        if story.resolve() in {Path(source.path).resolve() for source in understood.sources}:
            mend = f"`rungproof run {arguments.path} --scenario NAME` runs what stands in the project."
            raise CommandError(f"{arguments.story} is a file of the project itself, not a story.", mend)
        result = replay_story(understood.program, text, story.name)
        if not result.scenarios and not result.diagnoses:
            mend = "A story is what `rungproof check PATH --stories DIR` writes."
            raise CommandError(f"{arguments.story} holds no `scenario` block: there is nothing to replay.", mend)
        if not result.scenarios:
            texts = (*understood.sources, SourceText(story.name, text, ""))
            return _refuse(arguments, screen, output, result.diagnoses, texts)
        if (waveforms.files or pictures.files) and len(result.scenarios) > 1:
            count = len(result.scenarios)
            raise CommandError(f"{arguments.story} holds {count} scenario blocks, and a waveform or picture is of one.")
        for scenario, told_story in zip(result.scenarios, result.stories, strict=True):
            pictures.write(arguments, screen, understood.program, told_story, title=scenario.name)
        runs = _print(screen, understood.program, result, arguments)
        waveforms.write(arguments, screen, understood.program, result.stories[0], result.scenarios[0].name)
        output.write(
            arguments,
            result.exit_code,
            sources=sources_json(understood.sources),
            findings=findings_json(result.diagnoses),
            runs=runs,
            violated=result.violated,
        )
    return result.exit_code


def _refuse(
    arguments: Namespace,
    screen: Screen,
    output: JsonOutput,
    diagnoses: tuple[Diagnosis, ...],
    sources: Iterable[SourceText],
) -> int:
    screen.line(findings_text(diagnoses, sources, screen.width))
    output.write(arguments, FILES_WRONG, sources=[], findings=findings_json(diagnoses), runs=[], violated={})
    return FILES_WRONG


def _print(screen: Screen, program: Program, result: ReplayResult, arguments: Namespace) -> list[dict[str, object]]:
    """Tell each story; the runs as JSON."""
    runs = []
    for scenario, story in zip(result.scenarios, result.stories, strict=True):
        run = told(program, Scenario(scenario.name, story, (), NOWHERE), arguments)
        if not arguments.chart:
            print_account(screen, run.account)
            screen.line()
        print_scenario(screen, scenario)
        screen.line()
        runs.append({**run.to_json(), **scenario.to_json()})
    print_where(screen)
    screen.line()
    if result.violated:
        said = "; ".join(f"{name} at {time_words(at)}" for name, at in result.violated.items())
        screen.labelled("violated", said, indent=0)
    else:
        screen.labelled("violated", "nothing: the story shows no violation now", indent=0)
    return runs
