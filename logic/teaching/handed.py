"""Who handed in what: a student's name from the name of a file or folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rungproof.logic.teaching.predict import TABLE
from rungproof.logic.teaching.sandbox import Handed
from rungproof.logic.teaching.submission import ANSWER, shown


def handed_in(paths: Iterable[Path]) -> list[Handed]:
    """Every submission with its student; a name that comes twice is numbered.

    A file is named for its student (`anna.rung`), or lies in a folder that is (`anna/answer.rung`).
    """
    taken: dict[str, int] = {}
    handed = []
    for path in paths:
        inside = path.name in (ANSWER, TABLE) and path.parent.name
        name = (
            shown(path.parent.name if inside else path.stem if path.suffix in (".rung", ".csv") else path.name) or "?"
        )
        taken[name] = taken.get(name, 0) + 1
        handed.append(Handed(name if taken[name] == 1 else f"{name} ({taken[name]})", path))
    return handed
