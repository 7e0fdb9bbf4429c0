"""What stands beside a drawn rung: the remarks of its lines and of its tags, and where else each is used."""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.grammar import tree
from rungproof.logic.evidence.drawing_text import Comments
from rungproof.logic.evidence.drawn.metrics import shortened, visible
from rungproof.logic.evidence.drawn.references import References, Uses, names_used, preset_words


@dataclass(frozen=True, slots=True)
class Note:
    """One note: the line of the file, the name it is about, and sentences about it."""

    line: int
    name: str
    words: tuple[str, ...]


#: How many rungs a cross-reference names before it counts the rest.
MOST_NAMED = 8


def notes_of(rung: tree.Rung, references: References, comments: Comments) -> tuple[Note, ...]:
    """The notes of a rung, a line of the file after the other; each name is told where it first stands.

    A name whose only use is this rung, without remark or comment, needs no note.
    """
    notes = []
    told: set[str] = set()
    for node in (*rung.elements, *rung.outputs):
        line = node.span.line
        comment = comments.get((node.span.file, line), "").lstrip("# ")
        names = [name for name in dict.fromkeys(names_used(node, references)) if name not in told]
        told.update(names)
        own = [Note(line, name, words) for name in names if (words := _words(rung, references[name]))]
        if isinstance(node, tree.Stage) and not any(note.name == node.name for note in own):
            own.insert(0, Note(line, node.name, (preset_words(node),)))
        if comment:
            own.append(Note(line, "#", (shortened(visible(comment)),)))
        notes += own
    return tuple(notes)


def remarks_of(rung: tree.Rung, references: References, comments: Comments) -> tuple[Note, ...]:
    """Of the notes of a rung only what the file itself says: remarks of names and comments of lines."""
    notes = []
    for note in notes_of(rung, references, comments):
        if note.name == "#":
            notes.append(note)
        elif (uses := references.get(note.name)) is not None and uses.remark:
            notes.append(Note(note.line, note.name, (shortened(visible(uses.remark)),)))
    return tuple(notes)


def _words(rung: tree.Rung, uses: Uses) -> tuple[str, ...]:
    facts = [visible(uses.what)] if uses.what else []
    written = [other for other in uses.written if other != rung.name]
    read = uses.readers(besides=rung.name)
    if written:
        facts.append(f"written in {_listed(written)}")
    if read:
        facts.append(f"read in {_listed(read)}")
    remark = [shortened(visible(uses.remark))] if uses.remark else []
    return (*remark, *(["; ".join(facts)] if facts else []))


def _listed(names: list[str]) -> str:
    shown = names[:MOST_NAMED]
    more = len(names) - len(shown)
    return ", ".join(map(visible, shown)) + (f" and {more} more" if more else "")
