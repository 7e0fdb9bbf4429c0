"""The kinds of parts that a plant may use: ours, and those of the user's own Python file.

A file of parts is Python and is run when it is loaded, with all that this allows it. It must
lie in the plant's own folder.
"""

from __future__ import annotations

from pathlib import Path

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Plant
from rungproof.plant.catalogue import KINDS
from rungproof.plant.own_parts import PartFileError, load_parts
from rungproof.plant.part import Part


def kinds_for(plant: Plant, folder: Path | None, reporter: Reporter) -> dict[str, type[Part]]:
    """Kinds by the word that begins a part's line."""
    name = plant.parts_from
    if name is None:
        return dict(KINDS)
    if "/" in name or "\\" in name or name in ("", ".", "..") or ":" in name:
        reporter.report("parts-outside-folder", plant.span, file=name)
        return dict(KINDS)
    if not name.endswith(".py"):
        reporter.report("parts-not-python", plant.span, file=name)
        return dict(KINDS)
    path = (folder or Path()) / name
    if folder is None or not path.is_file():
        reporter.report("parts-missing", plant.span, file=name)
        return dict(KINDS)
    if path.resolve().parent != folder.resolve():
        reporter.report("parts-outside-folder", plant.span, file=name)
        return dict(KINDS)
    return {**KINDS, **_own(path, plant, reporter)}


def _own(path: Path, plant: Plant, reporter: Reporter) -> dict[str, type[Part]]:
    try:
        return load_parts(path)
    except PartFileError as error:
        where = f"{path.name}, line {error.line}: " if error.line else f"{path.name} "
        reporter.report("parts-file", plant.span, where=where, problem=error.message, mend=error.mend or None)
        return {}
