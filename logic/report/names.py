"""Every name that the drawn rungs and circuits speak of: what it is, and who writes and reads it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rungproof.grammar import tree
from rungproof.logic.evidence.drawing_text import Comments, Sheet
from rungproof.logic.evidence.drawn.references import names_used, references_of
from rungproof.logic.report.order import by_name


@dataclass(frozen=True, slots=True)
class NamedUse:
    """`what`: `input at X1:3 from S0.2`; `written`, `read`: the rungs, terminals and requirements that do so."""

    name: str
    what: str
    written: tuple[str, ...]
    read: tuple[str, ...]


def names_of(blocks: Iterable[tree.Block], sheets: Iterable[Sheet], comments: Comments) -> tuple[NamedUse, ...]:
    """The names in the order in which the drawings come to them; rungs first among the readers, then requirements."""
    references = references_of(list(blocks), comments)
    requirements = {each.name for each in blocks if isinstance(each, tree.Requirement)}
    told: dict[str, NamedUse] = {}
    for rung in (rung for sheet in sheets for rung in sheet.rungs):
        for name in (name for node in (*rung.elements, *rung.outputs) for name in names_used(node, references)):
            uses = references[name]
            # A word of the language inside an expression (`direction = reverse`) is declared and written nowhere.
            if name not in told and (uses.what or uses.written):
                read = sorted(uses.readers(""), key=lambda each: _place(each, requirements))
                told[name] = NamedUse(name, uses.what, tuple(uses.written), tuple(read))
    return tuple(told.values())


def _place(reader: str, requirements: set[str]) -> tuple[bool, tuple[tuple[int, int, str], ...]]:
    """Rungs and terminals as they come, requirements after them in the order of their names."""
    of = reader.partition(" (")[0]
    return (of in requirements, by_name(of) if of in requirements else ())
