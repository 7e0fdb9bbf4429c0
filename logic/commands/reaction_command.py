"""`rungproof reaction PATH`: how long from a cause to its effect, at the most?"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.words import time_words
from rungproof.logic.commands.errors import FILES_WRONG
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import print_where
from rungproof.logic.proofs.reaction import Reaction
from rungproof.logic.reaction_results import ReactionResult, reaction_of
from rungproof.logic.verbs.reading import understand


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        result = None
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
        else:
            with ProgressLine("proving how long each chain takes"):
                result = reaction_of(understood.program, prove_s=arguments.time)
            _print(screen, result)
            _write_stories(arguments.stories, result)
        code = FILES_WRONG if result is None else result.exit_code
        output.write(
            arguments,
            code,
            sources=sources_json(understood.sources),
            findings=findings_json(understood.diagnoses if result is None else ()),
            chains=[] if result is None else result.to_json(),
        )
    return code


def _write_stories(folder: str | None, result: ReactionResult) -> None:
    if folder is None:
        return
    Path(folder).mkdir(parents=True, exist_ok=True)
    for each in result.chains:
        if each.story is not None:
            write_file(str(Path(folder) / f"{each.requirement}.rung"), each.story)


def _print(screen: Screen, result: ReactionResult) -> None:
    if not result.chains:
        screen.paragraph("No requirement says within what time an effect comes.")
        screen.line("Write `whenever A has stood for T then B`.")
    else:
        screen.line(f"{'':12}{'allowed':>12}{'proved':>12}{'margin':>12}{'seen above':>12}")
    for each in result.chains:
        times = (each.asked, each.proved, each.margin, each.seen)
        row = "".join(f"{'-' if ms is None else time_words(ms):>12}" for ms in times)
        screen.line(screen.strong(f"{each.requirement:12}{row}"))
    for each in result.chains:
        _print_chain(screen, each)
    screen.line()
    screen.paragraph(
        "Proved: the effect has come within that time, whatever happens. Seen above: a story, replayed, in which it "
        "had not come after that time. The last tick that a proof cannot take away may be the model's own."
    )
    print_where(screen)


def _print_chain(screen: Screen, each: Reaction) -> None:
    screen.line()
    screen.line(screen.strong(each.requirement))
    screen.paragraph(f'"{each.sentence}"', indent=4)
    screen.labelled("restated", each.restatement)
    if each.through:
        screen.labelled("through", ", ".join(each.through))
    if each.why:
        screen.labelled("not proved", each.why)
    if each.story is not None:
        screen.line("    story")
        for row in each.story.rstrip().split("\n"):
            screen.line(f"        {row}")
