"""Lines that could not be read, and the echoes they would make among the others.

A tag whose own line is unreadable must not be called unknown wherever it is used. So every
word of an unreadable line counts as a name that is there and of which nothing is known; the
same goes for the lines under a header that is unreadable. Where a whole file is missing,
nothing at all can be said about unknown names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.project import Project

_WORD = re.compile(r"[A-Za-z][A-Za-z0-9_]*")

#: Diagnoses that only say that something named at their place is not there.
_NAMES = frozenset(
    {
        "unknown-name",
        "unknown-contact",
        "unknown-in-project",
        "unknown-reading",
        "part-unknown",
        "supply-unknown",
        "wire-source-unknown",
        "wired-tag-unknown",
        "drive-unknown",
        "hazard-unknown",
        "story-target-unknown",
        "parameter-unknown",
        "not-pressable",
        "input-unwired",
        "node-unread",
        "drive-undriven",
        "terminal-missing",
        "output-unwired",
        "output-leads-nowhere",
        "module-unfed",
        "hazard-unguarded",
        "not-driven",
        "fault-unknown",
        "circuit-drives-tag",
        "wired-tag-role",
    }
)

#: Diagnoses that say that a whole block is not there, and the word that begins it.
_BLOCKS = {
    "no-controller": "controller",
    "circuit-without-plant": "plant",
    "wiring-without-plant": "plant",
    "wiring-without-controller": "tags",
    "wiring-missing": "wiring",
    "controller-unfed": "controller",
    "outputs-free-without-plant": "plant",
    "fault-without-plant": "plant",
    "story-without-controller": "controller",
    "scans-without-controller": "controller",
}

#: Diagnoses after which some file's contents are not known.
_FILES = frozenset({"use-missing", "use-outside-folder", "use-not-rung", "use-cycle", "use-itself"})


@dataclass(frozen=True, slots=True)
class Damage:
    """Words on unreadable lines; whether a whole file is missing; the lines of every text."""

    words: frozenset[str]
    file_missing: bool
    lines: Mapping[str, list[str]]

    def without_echoes(self, found: Iterable[Diagnosis]) -> list[Diagnosis]:
        """The diagnoses, less those that an unreadable line or a missing file explains."""
        return [d for d in found if not self._is_echo(d)]

    def _is_echo(self, diagnosis: Diagnosis) -> bool:
        if diagnosis.code in _BLOCKS:
            return self.file_missing or _BLOCKS[diagnosis.code] in self.words
        if diagnosis.code not in _NAMES:
            return False
        return self.file_missing or not self.words.isdisjoint(_WORD.findall(self._text(diagnosis.span)))

    def _text(self, span: Span) -> str:
        lines = self.lines.get(span.file, [])
        if not 0 < span.line <= len(lines):
            return ""
        return lines[span.line - 1][span.column - 1 : span.end_column - 1]


def damage_of(project: Project, reporter: Reporter) -> Damage:
    """What the reading of the files has lost. Call it before meaning adds its own diagnoses."""
    lines = {source.path: source.text.splitlines() for source in project.sources}
    words: set[str] = set()
    for diagnosis in reporter.found:
        if diagnosis.grade == "error":
            words |= _lost(lines.get(diagnosis.span.file, []), diagnosis.span.line)
    missing = any(d.code in _FILES for d in reporter.found)
    missing = missing or any(d.span.file not in lines for d in reporter.found)
    return Damage(frozenset(words), missing, lines)


def _lost(lines: list[str], number: int) -> set[str]:
    """The words of one line, and of the block under it if it is a header."""
    if not 0 < number <= len(lines):
        return set()
    lost = set(_WORD.findall(lines[number - 1]))
    if not lines[number - 1][:1].isspace():
        for line in lines[number:]:
            if line.strip() and not line[:1].isspace() and not line.startswith("#"):
                break
            lost |= set(_WORD.findall(line))
    return lost
