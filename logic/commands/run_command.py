"""`rungproof run PATH`: a scenario, or nothing at all, told as it goes."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.api_results import RunResult
from rungproof.logic.commands.account_text import print_account
from rungproof.logic.commands.errors import FILES_WRONG, CommandError
from rungproof.logic.commands.findings_text import findings_count, findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.picture_output import PictureOutput
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.telling import told
from rungproof.logic.commands.verdict_text import print_scenario, print_where
from rungproof.logic.commands.waveform_output import WaveformOutput
from rungproof.logic.evidence.run_account import idle_scenario
from rungproof.logic.meaning.program import Program, Scenario
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.verbs.reading import understand
from rungproof.logic.verbs.running import IDLE_MS, scenario_of


def execute(arguments: Namespace) -> int:
    with (
        JsonOutput.of(arguments) as output,
        WaveformOutput.of(arguments) as waveforms,
        PictureOutput.of(arguments) as pictures,
    ):
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        common = {"sources": sources_json(understood.sources), "findings": findings_json(understood.diagnoses)}
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
            output.write(arguments, FILES_WRONG, **common, run=None)
            return FILES_WRONG
        scenario = _chosen(understood.program, arguments.scenario)
        result = told(understood.program, scenario, arguments)
        name = result.scenario.name
        pictures.write(
            arguments, screen, understood.program, result.story, title=name, expectations=scenario.expectations
        )
        _print(screen, understood, result, arguments)
        waveforms.write(arguments, screen, understood.program, result.story, name)
        output.write(arguments, result.exit_code, **common, run=result.to_json())
    return result.exit_code


def _chosen(program: Program, name: str | None) -> Scenario:
    if name is None:
        return idle_scenario(IDLE_MS)
    try:
        return scenario_of(program, name)
    except KeyError as error:
        words = str(error.args[0])
        raise CommandError(f"{words[:1].upper()}{words[1:]}.") from error


def _print(screen: Screen, understood: Understanding, result: RunResult, arguments: Namespace) -> None:
    if not arguments.chart:
        print_account(screen, result.account)
        screen.line()
    print_scenario(screen, result.scenario)
    screen.line()
    print_where(screen)
    screen.line()
    if understood.diagnoses:
        screen.labelled("findings", f"{findings_count(understood.diagnoses)}; `rungproof check` shows them", indent=0)
    names = [scenario.name for scenario in understood.program.scenarios] if understood.program else []
    if names and arguments.scenario is None:
        screen.labelled("scenarios", "; ".join(f'"{name}"' for name in names), indent=0)
        screen.labelled("", "run one with --scenario and its name, or how its name begins", indent=0)
