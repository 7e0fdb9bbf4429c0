"""Files laid out in the one way."""

from __future__ import annotations

from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.formatter import format_text
from rungproof.logic.api_results import FormatResult, FormattedFile
from rungproof.logic.commands.output import write_file
from rungproof.logic.meaning.project import load_path


def format(path: str | Path, *, check: bool = False) -> FormatResult:
    """Lay all files of a project out in the one way; with `check` change nothing.

    A file with mistakes is left as it is, and the result's `diagnoses` say why. Raises
    `CommandError` where a file cannot be written; each file is written whole or not at all.
    """
    reporter = Reporter(CATALOGUE)
    project = load_path(Path(path), reporter)
    files = []
    for source in project.sources:
        own = Reporter(CATALOGUE)
        text = format_text(source.text, source.path, own)
        reporter.found.extend(own.found)
        changed = text is not None and text.encode("utf-8") != Path(source.path).read_bytes()
        if changed and text is not None and not check:
            write_file(source.path, text)
        files.append(FormattedFile(source.path, text, changed))
    return FormatResult(tuple(files), reporter.sorted(), tuple(project.sources))
