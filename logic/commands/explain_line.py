"""`rungproof explain PATH:LINE`: what stands at a line, in words made from the tree."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.project import load_path
from rungproof.logic.teaching.line_words import LineTold, lines_told, tell_line
from rungproof.logic.verbs.reading import understand


def explain_line(screen: Screen, path: str, line: int) -> dict[str, Any]:
    """Print what line `line` of the file `path` says; the same for JSON."""
    told = line_told(path, line)
    screen.line(screen.strong(f"{told.file}:{told.line}"))
    if told.text:
        screen.line(f"    {told.text}")
    screen.line()
    screen.labelled(told.kind, told.name or "-", column=19)
    for sentence in told.sentences:
        screen.labelled("", sentence, column=19)
    if told.lines:
        screen.line()
        for each in told.lines:
            screen.line(f"    {'>' if each.line == line else ' '} {each.line:<5}{each.text}")
            screen.labelled("", each.words, column=19)
    return line_json(told)


def line_told(path: str, line: int) -> LineTold:
    """What stands at a line. Raises `CommandError` where there is no such file, or nothing at the line."""
    reporter = Reporter(CATALOGUE)
    where = Path(path)
    if where.is_dir():
        raise CommandError(f"{path} is a folder.", "Name the file whose line it is.")
    project = load_path(where, reporter)
    text = next((source.text for source in project.sources if source.path == path), None)
    if text is None:
        found = reporter.sorted()
        raise CommandError(found[0].message if found else f"{path} cannot be read.")
    program = understand(where).program or understand(where.parent).program
    told = tell_line(project.blocks, text, path, line, program)
    if told is None:
        lines = lines_told(project.blocks, path)
        near = min(lines, key=lambda each: abs(each - line), default=None)
        mend = "" if near is None else f"The nearest line that says something is {path}:{near}."
        raise CommandError(f"At line {line} of {path} stands nothing that could be read.", mend)
    return told


def line_json(told: LineTold) -> dict[str, Any]:
    return {
        "file": told.file,
        "line": told.line,
        "text": told.text,
        "kind": told.kind,
        "name": told.name,
        "sentences": list(told.sentences),
        "lines": [{"line": each.line, "text": each.text, "words": each.words} for each in told.lines],
    }
