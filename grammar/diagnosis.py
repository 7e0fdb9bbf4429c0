"""A diagnosis: what is wrong, where, what was expected, and the likely mend.

Every diagnosis is an `Entry` of the catalogue (`rungproof.grammar.catalogue`). Code that
finds a mistake calls `Reporter.report(code, span, **fields)`; the entry's templates are
filled with the fields. A code that is not in the catalogue raises `KeyError`: a mistake
of ours, found by the tests, never shown to a user.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from rungproof.grammar.tree import Span

Grade = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Sample:
    """Files that trigger an entry. `files` maps a file name to its text; the first is opened.

    Texts are written as UTF-8; a lone surrogate such as `\\udce4` stands for a byte that is
    none (`errors="surrogateescape"`). Names may hold folders.
    """

    files: dict[str, str]


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the catalogue.

    `message`, `expected` and `mend` are `str.format` templates over the fields that the
    reporting code gives. Grade `error` stops the files from running, or (for findings about
    a program that can run) makes the exit code 2.
    """

    code: str
    grade: Grade
    message: str
    samples: tuple[Sample, ...]
    expected: str | None = None
    mend: str | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """One mistake at one place. `related` names other places: the first coil, the loop's path."""

    code: str
    grade: Grade
    span: Span
    message: str
    expected: str | None = None
    mend: str | None = None
    related: tuple[tuple[Span, str], ...] = ()

    def sort_key(self) -> tuple[str, int, int, str]:
        return (self.span.file, self.span.line, self.span.column, self.code)


@dataclass(slots=True)
class Reporter:
    """Collects diagnoses; `sorted()` gives them by place, each once."""

    entries: dict[str, Entry]
    found: list[Diagnosis] = field(default_factory=list)

    def report(
        self,
        code: str,
        span: Span,
        *,
        related: tuple[tuple[Span, str], ...] = (),
        mend: str | None = None,
        **fields: object,
    ) -> None:
        """Add one diagnosis. `mend` replaces the entry's mend where the code knows better."""
        entry = self.entries[code]
        self.found.append(
            Diagnosis(
                code=code,
                grade=entry.grade,
                span=span,
                message=entry.message.format(**fields),
                expected=entry.expected.format(**fields) if entry.expected else None,
                mend=mend if mend is not None else entry.mend.format(**fields) if entry.mend else None,
                related=related,
            )
        )

    @property
    def has_errors(self) -> bool:
        return any(d.grade == "error" for d in self.found)

    def sorted(self) -> tuple[Diagnosis, ...]:
        return tuple(sorted(dict.fromkeys(self.found), key=Diagnosis.sort_key))
