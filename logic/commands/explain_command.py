"""`rungproof explain CODE`: a diagnosis at length, with a text that gets it."""

from __future__ import annotations

import difflib
from argparse import Namespace

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Entry
from rungproof.logic.commands.errors import FINE, CommandError
from rungproof.logic.commands.json_output import JsonOutput
from rungproof.logic.commands.screen import Screen

#: Lines and columns of a sample beyond which it is told, not shown.
MOST_LINES, MOST_COLUMNS = 40, 200

_GRADES = {
    "error": "error: exit code 2 until it is mended",
    "warning": "warning: it runs, and deserves a look",
    "note": "note: worth knowing",
}


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        code = arguments.code
        if code is None:
            entries = [CATALOGUE[each] for each in sorted(CATALOGUE)]
            for entry in entries:
                screen.line(f"{entry.code:32} {entry.grade}")
        else:
            entries = [_entry(code)]
            _print(screen, entries[0])
        output.write(arguments, FINE, entries=[_json(entry) for entry in entries])
    return FINE


def _entry(code: str) -> Entry:
    if code not in CATALOGUE:
        near = difflib.get_close_matches(code, CATALOGUE, 3)
        mend = f"Did you mean {' or '.join(near)}?" if near else "`rungproof explain` alone lists all codes."
        raise CommandError(f"No diagnosis has the code {code}.", mend)
    return CATALOGUE[code]


def _print(screen: Screen, entry: Entry) -> None:
    screen.line(screen.strong(entry.code))
    screen.labelled("grade", _GRADES[entry.grade])
    screen.labelled("says", entry.message)
    if entry.expected:
        screen.labelled("expects", entry.expected)
    if entry.mend:
        screen.labelled("mend", entry.mend)
    if entry.why:
        screen.labelled("why", entry.why)
    screen.labelled("", "Words in braces are filled in from the place where it occurs.")
    for sample in entry.samples[:1]:
        for name, text in sample.files.items():
            lines = text.splitlines()
            screen.line()
            screen.labelled("sample", name)
            screen.line()
            if len(lines) > MOST_LINES or any(len(line) > MOST_COLUMNS for line in lines):
                screen.line("        (a text too big to show)")
                continue
            for line in lines:
                shown = "".join(sign if sign.isprintable() else "\N{MIDDLE DOT}" for sign in line.expandtabs(4))
                screen.line(f"        {shown}".rstrip())


def _json(entry: Entry) -> dict[str, str | None]:
    return {
        "code": entry.code,
        "grade": entry.grade,
        "message": entry.message,
        "expected": entry.expected,
        "mend": entry.mend,
        "why": entry.why or None,
    }
