"""Rungs as text drawings, one to one with the file, in the graphical symbols of IEC 61131-3.

The drawing is made from the tree, so that whatever can be read can be drawn, also where it
means nothing yet. Nothing is left out, joined or reordered on the way: what a reviewer signs
as a drawing is what the file says.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from rungproof.grammar import tree
from rungproof.grammar.source import split_comment, split_lines
from rungproof.grammar.unparse import to_text
from rungproof.logic.evidence.drawing_contacts import Contacts, contacts_of, with_nodes
from rungproof.logic.evidence.drawing_elements import CONNECTORS, Draughtsman, packed
from rungproof.logic.evidence.picture import JOINT, Picture, folded, in_series, wire
from rungproof.logic.evidence.wrapping import wrap

#: Columns of a drawing unless somebody asks for others, and the fewest that make sense; a
#: drawing of short rungs is as wide as `USUAL` all the same, so that remarks read well.
WIDTH, NARROWEST, USUAL = 100, 40, 72

RAIL, RAILS = "|", 2

#: What stands above the rungs of every circuit, and at the end of whatever is handed out.
CIRCUIT_NOTE = (
    "State logic, not a wiring diagram: a break contact is drawn |/| and conducts while its device is not operated."
)
CAUTION = (
    "A design aid, no proof of what is wired: verify on the real machine.\n"
    "Emergency stop, guarding, two-hand control and overfill protection belong in\n"
    "hardwired, rated equipment; local codes and licensed practice decide."
)

#: (file, line) to the comment there, `#` included.
Comments = Mapping[tuple[str, int], str]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is drawn together between one pair of rails: a controller's rungs, or a circuit's.

    `contacts` is None for a controller; for a circuit it says what its contacts are.
    """

    title: str
    rails: tuple[str, str]
    rungs: tuple[tree.Rung, ...]
    contacts: Contacts | None = None


def sheets_of(blocks: Iterable[tree.Block]) -> list[Sheet]:
    """The rungs of a project as sheets: the program's first, then one for every circuit."""
    blocks = list(blocks)
    names = [f'controller "{block.name}"' for block in blocks if isinstance(block, tree.Controller)]
    program = tuple(block for block in blocks if isinstance(block, tree.Rung))
    sheets = [Sheet(names[0] if names else "rungs", ("", ""), program)] if program else []
    contacts = contacts_of(blocks) if any(isinstance(block, tree.Circuit) for block in blocks) else {}
    for block in blocks:
        if isinstance(block, tree.Circuit):
            title = f'circuit "{block.name}" from {block.supply.text}'
            sheets.append(Sheet(title, (block.supply.text, "return"), block.rungs, with_nodes(block, contacts)))
    return sheets


def draw_sheet(
    sheet: Sheet,
    *,
    width: int = WIDTH,
    comments: Comments | None = None,
    references: Callable[[tree.Rung], Iterable[str]] | None = None,
) -> str:
    """All rungs of a sheet under its title; the rails of all of them stand in the same columns.

    `comments` maps (file, line) to the comment there; a rung's own are printed below it.
    `references` gives the sentences that stand below a rung: what its names are, and where else they are used.
    """
    width = max(width, NARROWEST)
    natural = max((_hand_and_picture(rung, width - RAILS, sheet.contacts)[1].width for rung in sheet.rungs), default=0)
    common = min(width, max(natural + RAILS, USUAL))
    parts = [sheet.title, "=" * min(len(sheet.title), width)]
    if sheet.contacts is not None:
        # Indented, lest a row that begins with a symbol be taken for part of a rung.
        parts += [f"    {row}" for row in wrap(CIRCUIT_NOTE, common - 4)]
    parts.append("")
    for rung in sheet.rungs:
        drawn = draw_rung(rung, rails=sheet.rails, width=common, comments=comments, contacts=sheet.contacts)
        for words in references(rung) if references is not None else ():
            drawn += textwrap.wrap(words, common, initial_indent="  ", subsequent_indent="      ")
        parts += [*drawn, ""]
    return "\n".join(parts).rstrip("\n") + "\n"


def draw_rung(
    rung: tree.Rung,
    *,
    rails: tuple[str, str] = ("", ""),
    width: int = WIDTH,
    comments: Comments | None = None,
    contacts: Contacts | None = None,
) -> list[str]:
    """One rung: its name and place, its remark, the drawing, the comments of its lines.

    `width` counts columns, rails included. A name too long for it is drawn all the same.
    `contacts` is given for a rung of a circuit: what the contacts are that it names.
    """
    hand, picture = _hand_and_picture(rung, width - RAILS, contacts, reach=width - RAILS)
    width = picture.width + RAILS
    head, place = f"rung {rung.name}", f"{Path(rung.span.file).name}:{rung.span.line}"
    lines = [head + place.rjust(max(width - len(head), len(place) + 2))]
    lines += [f"    {row}" for row in wrap(rung.remark or "", width - 4) if row]
    lines.append((rails[0] + rails[1].rjust(width - len(rails[0]))).rstrip() or RAIL + RAIL.rjust(width - 1))
    left = [JOINT if row == picture.enter else RAIL for row in range(picture.height)]
    right = [JOINT if row in picture.leaves else RAIL for row in range(picture.height)]
    lines += [f"{a}{row}{b}" for a, row, b in zip(left, picture.lines, right, strict=True)]
    lines += [f"  {name}: kind not known" for name in hand.unknown]
    return lines + _notes(rung, comments or {}, width)


def _hand_and_picture(
    rung: tree.Rung, room: int, contacts: Contacts | None, *, reach: int = 0
) -> tuple[Draughtsman, Picture]:
    """Elements in series, then the outputs, whose coils stand at column `reach` or behind it."""
    hand = Draughtsman(room, contacts)
    pictures = [wire(1), *(hand.element(element) for element in rung.elements)]
    if rung.outputs:
        pictures.append(hand.outputs(rung.outputs, room - CONNECTORS))
    rows = packed(pictures, room)
    if len(rows) > 1 and len(rows[0]) == 1:
        # A first row of nothing but the wire from the rail would say nothing.
        rows = packed(pictures[1:], room)
    last = rows.pop()
    end = last.pop() if rung.outputs else wire(1)
    marks = [hand.connector() for _ in rows]
    missing = reach - end.width - (len(f" {marks[-1]}-") if marks else 0)
    before = [in_series(last).stretched(missing)] if last else [wire(missing)] if missing > 0 else []
    return hand, folded([*(in_series(row) for row in rows), in_series([*before, end])], marks)


def comments_of(sources: Iterable[tuple[str, str]]) -> dict[tuple[str, int], str]:
    """The comments of texts, given as (path, text), by place."""
    found = {}
    for path, text in sources:
        for number, line in enumerate(split_lines(text), start=1):
            comment = split_comment(line)[1]
            if comment:
                found[path, number] = comment
    return found


def _notes(rung: tree.Rung, comments: Comments, width: int) -> list[str]:
    """The comments that stand at the rung's own lines, each after what the line says."""
    places = [(rung.span, f"rung {rung.name}")]
    places += [(element.span, _short(element)) for element in (*rung.elements, *rung.outputs)]
    rows = []
    for span, what in places:
        comment = comments.get((span.file, span.line), "").lstrip("# ")
        if comment:
            rows += textwrap.wrap(f"{what}: {comment}", width, initial_indent="  # ", subsequent_indent="    ")
    return rows


def _short(node: tree.Condition | tree.Stage | tree.Output) -> str:
    if isinstance(node, tree.Condition):
        return to_text(node.expression)
    return node.name if isinstance(node, tree.Stage) else node.target.text
