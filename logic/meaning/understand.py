"""From files to a `Program`: everything the text means, or everything that is wrong with it.

    understand(path)           a folder, or a file with what it `use`s
    understand_texts(files)    the same from memory: the first file is opened

Neither raises for anything a file says. Mistakes come out sorted by place, each once, and a
mistake in one line does not make others look wrong.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.logic.meaning.findings.every import report_findings
from rungproof.logic.meaning.program import Program, SourceText
from rungproof.logic.meaning.project import Project, check_blocks, load_path, load_texts
from rungproof.logic.meaning.understand_damage import damage_of
from rungproof.logic.meaning.understand_join import join


@dataclass(frozen=True, slots=True)
class Understanding:
    """What was understood. `program` is None if a mistake keeps it from running; findings of
    grade error about a program that can run leave it there. `sources` are the files read."""

    program: Program | None
    diagnoses: tuple[Diagnosis, ...]
    sources: tuple[SourceText, ...]

    @property
    def has_errors(self) -> bool:
        return any(d.grade == "error" for d in self.diagnoses)


def understand(path: Path) -> Understanding:
    """Understand the project at `path`: a folder holds one project; a file brings what it uses."""
    reporter = Reporter(CATALOGUE)
    project = load_path(path, reporter)
    folder = path if path.is_dir() else path.parent
    return _understand(project, folder, reporter)


def understand_texts(files: Mapping[str, str]) -> Understanding:
    """Understand texts by file name. A user's own parts are written to a temporary folder to be loaded."""
    reporter = Reporter(CATALOGUE)
    project = load_texts(files, reporter)
    own = {name: text for name, text in files.items() if name.endswith(".py")}
    if not own:
        return _understand(project, None, reporter)
    with tempfile.TemporaryDirectory() as folder:
        for name, text in own.items():
            (Path(folder) / Path(name).name).write_text(text, encoding="utf-8")
        return _understand(project, Path(folder), reporter)


def understand_project(project: Project, folder: Path | None = None) -> Understanding:
    """Understand blocks that have been read already; `folder` is where a user's own parts stand."""
    return _understand(project, folder, Reporter(CATALOGUE))


def _understand(project: Project, folder: Path | None, reporter: Reporter) -> Understanding:
    damage = damage_of(project, reporter)
    check_blocks(project.blocks, reporter)
    program = join(project, folder, reporter)
    reporter.found = damage.without_echoes(reporter.found)
    if reporter.has_errors:
        program = None
    if program is not None:
        report_findings(program, reporter)
    return Understanding(program, reporter.sorted(), tuple(project.sources))
