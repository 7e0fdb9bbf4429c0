"""`rungproof restart PATH`: does anything but a fresh, deliberate action start what moves?"""

from __future__ import annotations

import re
from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.checks.words import many, time_words
from rungproof.logic.commands.errors import FILES_WRONG
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.output import folder_for, write_file
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.safety.restart import HOW, RestartResult, RestartRow, restart_of
from rungproof.logic.verbs.reading import understand

_EMPTY = RestartResult((), (), (), 0, 0, False)

#: More causes than this in one row are counted, not named.
_NAMED = 6


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        folder = None if arguments.stories is None else folder_for(arguments.stories)
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        result, code = _EMPTY, FILES_WRONG
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
        else:
            with ProgressLine() as progress:
                result = restart_of(
                    understood.program,
                    time_s=arguments.time,
                    progress=lambda done, there: progress(done, there, "starting and stopping"),
                )
            code = result.exit_code
            _print(screen, result)
            if folder is not None:
                _write_stories(folder, result)
        output.write(
            arguments,
            code,
            cautions=CAUTIONS,
            sources=sources_json(understood.sources),
            findings=findings_json(understood.diagnoses if understood.program is None else ()),
            **result.to_json(),
        )
    return code


def _write_stories(folder: Path, result: RestartResult) -> None:
    for row in result.rows:
        for restart in row.restarts:
            if restart.story_text:
                name = re.sub(r"\W+", "_", f"{row.moving} {row.group}")
                write_file(folder / f"{name}.rung", restart.story_text)


def _print(screen: Screen, result: RestartResult) -> None:
    starts = dict(result.starts)
    for name in dict.fromkeys(row.moving for row in result.rows):
        by = ", ".join(starts[name]) or "itself"
        screen.line(screen.strong(f"{name}  started by {by}"))
        for row in result.rows:
            if row.moving == name:
                _row(screen, row)
        screen.line()
    for name in result.never_started:
        screen.line(f"{name}  never seen to start: nothing was tried on it. A scenario that starts it would help.")
    if not result.rows and not result.never_started:
        screen.line("Nothing here moves.")
    screen.paragraph(HOW)
    screen.line()
    screen.paragraph(f"{IN_THE_MODEL} {CAUTIONS}")
    screen.line()
    cut = "; the time was out before the rest" if result.cut else ""
    screen.line(f"tried      {many(result.runs, 'run')} of {result.planned:,} planned{cut}")
    for name in result.proved:
        said = (
            f"after the controller's power has come back, {name} stays off until a start input rises, for every input"
        )
        screen.labelled("proved", said, indent=0, column=11)
    restarting = dict.fromkeys(row.moving for row in result.rows if row.word == "restarts")
    screen.line(f"restarts   {', '.join(restarting) or 'none found'}")


def _row(screen: Screen, row: RestartRow) -> None:
    said = f"{row.word}; {row.stopped} of {many(row.causes, 'cause')} stopped it, {many(row.runs, 'run')}"
    screen.labelled(row.group, said, column=30)
    causes = list(dict.fromkeys(f"{r.cause} ({r.after}, start {r.hands})" for r in row.restarts))
    more = f"; and {len(causes) - _NAMED} more" if len(causes) > _NAMED else ""
    if causes:
        screen.labelled("", "; ".join(causes[:_NAMED]) + more, column=30)
    if row.word == "restarts":
        for restart in row.restarts:
            if restart.story_text:
                screen.line()
                for line in restart.story_text.rstrip().splitlines():
                    screen.line(f"        {line}")
                screen.line(
                    f"        # it is on again at {time_words(restart.at_ms)}; the reference engine shows the same"
                )
                screen.line()
