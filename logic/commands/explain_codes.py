"""`rungproof explain CODE`: a diagnosis at length, with a text that gets it."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from functools import partial
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Entry, Sample
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS
from rungproof.logic.teaching.misconceptions.entry import Misconception
from rungproof.logic.teaching.misconceptions.right import right_sample

#: Lines and columns of a sample that are shown; of a longer text those round the place.
MOST_LINES, MOST_COLUMNS = 40, 200

#: Characters of a sample beyond which its place is not looked for: it would keep people waiting.
MOST_TO_READ = 100_000

_GRADES = {
    "error": "error: exit code 2 until it is mended",
    "warning": "warning: it runs, and deserves a look",
    "note": "note: worth knowing",
}


def explain_codes(screen: Screen, code: str | None) -> list[dict[str, str | None]]:
    """Print one entry at length, or the codes of all; the entries for JSON."""
    if code in MISCONCEPTIONS:
        _print_misconception(screen, MISCONCEPTIONS[code])
        return [_misconception_json(MISCONCEPTIONS[code])]
    if code is None:
        entries = [CATALOGUE[each] for each in sorted(CATALOGUE)]
        for entry in entries:
            screen.line(f"{entry.code:32} {entry.grade}")
        for misconception in MISCONCEPTIONS:
            screen.line(f"{misconception:32} hint")
    else:
        entries = [_entry(code)]
        _print(screen, entries[0])
    hints = [_misconception_json(each) for each in MISCONCEPTIONS.values()] if code is None else []
    return [*(_json(entry) for entry in entries), *hints]


def _print_misconception(screen: Screen, entry: Misconception) -> None:
    """A mistake that learners make: its hint in three stages, and rungs that get it."""
    screen.line(screen.strong(entry.code))
    screen.labelled("grade", "hint: what `rungproof grade` says of a mistake that learners make")
    screen.labelled("is", entry.title)
    for label, said in (("question", entry.question), ("place", entry.look), ("rule", entry.rule)):
        screen.labelled(label, said.replace("{tag}", "`tag`"))
    screen.line()
    screen.labelled("wrong", "rungs, and the requirement that they fail:")
    for row in (*entry.sample.answer.splitlines(), "", *entry.sample.requirements.splitlines()):
        screen.line(f"        {row}".rstrip())
    right = right_sample(entry)
    if right is not None:
        screen.line()
        screen.labelled("right", "the same with the mistake undone, and the requirement holds:")
        for row in right.splitlines():
            screen.line(f"        {row}".rstrip())


def _misconception_json(entry: Misconception) -> dict[str, str | None]:
    return {
        "code": entry.code,
        "grade": "hint",
        "message": entry.question,
        "expected": entry.look,
        "mend": entry.rule,
        "why": entry.title,
    }


def _entry(code: str) -> Entry:
    if code not in CATALOGUE:
        if Path(code).suffix == ".rung" or Path(code).is_dir():
            words = f"Say which line: `rungproof explain {code}:12`; or a tag: `rungproof explain {code} --why TAG`."
            raise CommandError(f"{code} is a project, and there is much to say of it.", words)
        near = difflib.get_close_matches(code, [*CATALOGUE, *MISCONCEPTIONS], 3)
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
            screen.line()
            _print_sample(screen, name, text.splitlines(), partial(_place, entry, sample, name))


def _print_sample(screen: Screen, name: str, lines: list[str], place: Callable[[], int | None]) -> None:
    """A sample's file, or its lines round the place of the diagnosis, which is then marked."""
    first, marked, said = 0, None, name
    if len(lines) > MOST_LINES:
        marked = place()
        first = min(max((marked or 1) - 1 - MOST_LINES // 2, 0), len(lines) - MOST_LINES)
        said = f"{name}, lines {first + 1} to {first + MOST_LINES} of {len(lines)}"
    screen.labelled("sample", said)
    screen.line()
    for number, line in enumerate(lines[first : first + MOST_LINES], start=first + 1):
        signs = line.expandtabs(4)
        shown = "".join(sign if sign.isprintable() else "\N{MIDDLE DOT}" for sign in signs[:MOST_COLUMNS])
        more = " ..." if len(signs) > MOST_COLUMNS else ""
        screen.line(f"{'      > ' if number == marked else '        '}{shown}{more}".rstrip())


def _place(entry: Entry, sample: Sample, name: str) -> int | None:
    """The line of file `name` where the sample gets its diagnosis; None if it is not found there."""
    if sum(map(len, sample.files.values())) > MOST_TO_READ:
        return None
    found = understand_texts(sample.files).diagnoses
    return next((each.span.line for each in found if each.code == entry.code and each.span.file == name), None)


def _json(entry: Entry) -> dict[str, str | None]:
    return {
        "code": entry.code,
        "grade": entry.grade,
        "message": entry.message,
        "expected": entry.expected,
        "mend": entry.mend,
        "why": entry.why or None,
    }
