"""Drawings: rungs as text and as SVG."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from rungproof.grammar import tree
from rungproof.logic.evidence.drawing_text import WIDTH, Comments, Sheet, comments_of, draw_sheet, sheets_of
from rungproof.logic.evidence.drawn.index_page import drawn_files
from rungproof.logic.evidence.drawn.notes import notes_of
from rungproof.logic.evidence.drawn.references import references_of
from rungproof.logic.evidence.drawn.rung_svg import WIDTH as SVG_WIDTH
from rungproof.logic.evidence.drawn.rung_svg import Context
from rungproof.logic.meaning.project import Project
from rungproof.logic.verbs.reading import read_to_draw


def draw(path: str | Path, rungs: Iterable[str] = (), *, width: int = WIDTH, references: bool = False) -> str:
    """Rungs as text, one to one with the file, in the symbols of IEC 61131-3.

    Args: `rungs`, names (all); `width`, columns; `references`: below each rung stands what its names are, and
    where else they are written and read. Raises `FilesWrongError` where a line cannot
    be read, because a drawing must not lack one; `KeyError` for a rung that is not there.
    """
    return drawing_of(read_to_draw(path), rungs, width=width, references=references)


def draw_svg(path: str | Path, rungs: Iterable[str] = (), *, width: float = SVG_WIDTH) -> dict[str, str]:
    """Rungs as SVG, one to one with the file: file names to texts, `index.html` and a file for each rung.

    Args: `rungs`, names (all); `width`, CSS pixels between the rails. Raises as `draw` does.
    """
    return svg_files_of(read_to_draw(path), rungs, width=width)


def drawing_of(project: Project, rungs: Iterable[str] = (), *, width: int = WIDTH, references: bool = False) -> str:
    """`draw` of what has been read already."""
    comments = _comments(project)
    used = references_of(project.blocks, comments) if references else {}

    def told(rung: tree.Rung) -> list[str]:
        return [f"{note.name} (line {note.line}): {'; '.join(note.words)}" for note in notes_of(rung, used, {})]

    return "\n".join(
        draw_sheet(sheet, width=width, comments=comments, references=told if references else None)
        for sheet in _sheets(project, rungs)
    )


def svg_files_of(project: Project, rungs: Iterable[str] = (), *, width: float = SVG_WIDTH) -> dict[str, str]:
    """`draw_svg` of what has been read already."""
    names = [block.name for block in project.blocks if isinstance(block, tree.Controller | tree.Plant)]
    context = Context.of(project.blocks, _comments(project))
    return drawn_files(_sheets(project, rungs), context, f"Rungs of {names[0] if names else 'a project'}", width=width)


def _sheets(project: Project, rungs: Iterable[str]) -> list[Sheet]:
    """The sheets that hold a rung of the names in `rungs` (empty: all), each with those alone."""
    sheets = sheets_of(project.blocks)
    wanted = list(rungs)
    known = {rung.name for sheet in sheets for rung in sheet.rungs}
    for name in wanted:
        if name not in known:
            raise KeyError(f"no rung is called `{name}`; there are: {', '.join(sorted(known)) or 'none'}")
    if wanted:
        sheets = [replace(s, rungs=tuple(r for r in s.rungs if r.name in wanted)) for s in sheets]
    return [sheet for sheet in sheets if sheet.rungs]


def _comments(project: Project) -> Comments:
    return comments_of((source.path, source.text) for source in project.sources)
