"""Reading a project: the beginning of every verb."""

from __future__ import annotations

from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.api_results import FilesWrongError
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project, load_path
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.meaning.understand import understand as understand_path

#: Where a project comes from: the path of a folder or of a file, or what has been read of it already.
Source = str | Path | Understanding


def understand(path: str | Path) -> Understanding:
    """Read a project: its Program (None if it cannot be run), its diagnoses, its sources. Raises nothing."""
    return understand_path(Path(path))


def understood_of(source: Source) -> Understanding:
    """What `source` means; read only if it has not been. Raises nothing."""
    return source if isinstance(source, Understanding) else understand(source)


def runnable(source: Source) -> Program:
    """The Program of `source`. Raises `FilesWrongError` where the files cannot be run."""
    understood = understood_of(source)
    if understood.program is None:
        raise FilesWrongError(understood.diagnoses, understood.sources)
    return understood.program


def read_to_draw(path: str | Path) -> Project:
    """Read a project line by line, whatever it means. Raises `FilesWrongError` for an unreadable line."""
    reporter = Reporter(CATALOGUE)
    project = load_path(Path(path), reporter)
    if reporter.has_errors:
        raise FilesWrongError(reporter.sorted(), project.sources)
    return project


def read_to_change(path: str | Path) -> tuple[Project, Understanding]:
    """A project's tree and what it means. Raises `FilesWrongError` where it cannot be run."""
    understood = understand(path)
    runnable(understood)
    return load_path(Path(path), Reporter(CATALOGUE)), understood
