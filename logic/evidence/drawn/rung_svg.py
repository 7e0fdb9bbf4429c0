"""Rungs as SVG, one to one with the file: the front door of the drawings.

    svg_of_rung(rung, context)             one rung, as the text of an `<svg>` element
    svg_of_rung(..., notes="below")        its notes below it (`beside`, `below`, `remarks`, `none`)
    svg_of_rung(..., power=Power(...))     with power shown, thick where it is and dashed where not
    draw_rung(rung, context)               the same before it is ink: size, items, nets, elements
    Context.of(blocks, comments)           what a drawing needs to know of the project round a rung

`rungproof.logic.evidence.drawing_text.sheets_of` gives a project's rungs as sheets, the program's
and one for each circuit; `sheet_context` makes a sheet's context. An element that is not `alone`
carries no style: put `ink.STYLE` once into the page that holds it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.evidence.drawing_contacts import Contacts
from rungproof.logic.evidence.drawing_text import Comments, Sheet
from rungproof.logic.evidence.drawn.draughtsman import Draughtsman
from rungproof.logic.evidence.drawn.ink import Power, document, ink, number
from rungproof.logic.evidence.drawn.metrics import rows_of, shortened, text_width, visible
from rungproof.logic.evidence.drawn.nets import RAIL, Nets
from rungproof.logic.evidence.drawn.notes import Note, notes_of, remarks_of
from rungproof.logic.evidence.drawn.references import References, references_of, terminals_of
from rungproof.logic.evidence.drawn.shapes import ASCENT, DESCENT, LEADING, SMALL, Item, Text, Wire, without_seams

#: Width of a drawing between its rails and of the notes beside it, unless somebody asks for others.
WIDTH, NOTES = 700.0, 310.0
#: The narrowest drawing that makes sense.
NARROWEST = 240.0
MARGIN, GUTTER, AISLE = 16.0, 30.0, 28.0
TITLE, REMARK, NOTE = 15.0, 13.0, 12.0

Place = Literal["beside", "below", "remarks", "none"]


@dataclass(frozen=True, slots=True)
class Context:
    """What stands round a rung. `contacts` and `rails` are a circuit's; see `drawing_text.Sheet`."""

    references: References = field(default_factory=dict)
    comments: Comments = field(default_factory=dict)
    terminals: Mapping[str, str] = field(default_factory=dict)
    contacts: Contacts | None = None
    rails: tuple[str, str] = ("", "")

    @classmethod
    def of(cls, blocks: Iterable[tree.Block], comments: Comments | None = None) -> Context:
        blocks = list(blocks)
        return cls(references_of(blocks, comments or {}), comments or {}, terminals_of(blocks))


def sheet_context(context: Context, sheet: Sheet) -> Context:
    """The context of a sheet's rungs, from their project's."""
    return replace(context, contacts=sheet.contacts, rails=sheet.rails)


@dataclass(frozen=True, slots=True)
class Drawing:
    """A rung laid out. `elements` are the tree nodes by the numbers that `nets` and symbols use."""

    name: str
    label: str
    width: float
    height: float
    items: tuple[Item, ...]
    rules: tuple[tuple[float, float, float, float], ...]
    nets: Nets
    elements: Sequence[tree.Node]

    def svg(self, power: Power | None = None, *, alone: bool = False) -> str:
        """The text of an `<svg>` element."""
        rules = [
            f'<line class="rail" x1="{number(a)}" y1="{number(b)}" x2="{number(c)}" y2="{number(d)}"/>'
            for a, b, c, d in self.rules
        ]
        body = [*rules, *ink(self.items, power)]
        return document(self.width, self.height, body, label=self.label, alone=alone)


def svg_of_rung(
    rung: tree.Rung,
    context: Context | None = None,
    *,
    width: float = WIDTH,
    notes: Place = "beside",
    heading: bool = True,
    power: Power | None = None,
    alone: bool = False,
) -> str:
    """One rung as the text of an `<svg>` element. `width` is that between the rails, in CSS pixels.

    What cannot be broken into it (deeply nested branches) makes the drawing wider.
    """
    return draw_rung(rung, context, width=width, notes=notes, heading=heading).svg(power, alone=alone)


def draw_rung(
    rung: tree.Rung,
    context: Context | None = None,
    *,
    width: float = WIDTH,
    notes: Place = "beside",
    heading: bool = True,
) -> Drawing:
    """One rung laid out: its name and place, its remark, the drawing, the notes."""
    context = context or Context()
    hand = Draughtsman(max(width, NARROWEST), context.contacts, context.terminals)
    block = hand.rung(rung)
    texts: list[Text] = []
    y = MARGIN
    inner = block.width
    if heading:
        y = _heading(texts, rung, inner, y)
    rail_top = y
    if any(context.rails):
        rail_top += SMALL * LEADING + 4
        texts.append(Text(visible(context.rails[0]), MARGIN, rail_top - 5, SMALL, anchor="start", role="rail"))
        texts.append(Text(visible(context.rails[1]), MARGIN + inner, rail_top - 5, SMALL, anchor="end", role="rail"))
    axis = rail_top + 8 - block.top
    end = axis + block.bottom + 10
    items: list[Item] = [
        *without_seams(block.moved(MARGIN, axis)),
        Wire(((MARGIN, rail_top), (MARGIN, end)), RAIL, rail=True),
    ]
    rules = [(MARGIN + inner, rail_top, MARGIN + inner, end)]
    total, bottom = inner + 2 * MARGIN, end
    tell = remarks_of if notes == "remarks" else notes_of
    found = tell(rung, context.references, context.comments) if notes != "none" else ()
    found += tuple(Note(0, name, ("contact of a kind that is not known",)) for name in hand.unknown)
    if found:
        beside = notes == "beside"
        left = MARGIN + inner + AISLE if beside else MARGIN
        top = MARGIN if beside else end + 12
        column = NOTES if beside else inner
        low = (_remarks if notes == "remarks" else _notes)(texts, found, left, top, column)
        bottom = max(bottom, low)
        total = max(total, left + column + MARGIN)
    label = f"rung {rung.name}, drawn. In words: " + "; ".join(
        to_text(each) for each in (*rung.elements, *rung.outputs)
    )
    return Drawing(
        rung.name, label, total, bottom + MARGIN, (*items, *texts), tuple(rules), hand.nets, tuple(hand.elements)
    )


def _heading(texts: list[Text], rung: tree.Rung, width: float, y: float) -> float:
    """Name, place and remark; gives the height at which the drawing may begin."""
    place = f"{visible(Path(rung.span.file).name)}:{rung.span.line}"
    title = f"rung {visible(rung.name)}"
    if text_width(title, TITLE, "mono") + text_width(place, SMALL, "mono") + 12 <= width:
        texts.append(Text(place, MARGIN + width, y + TITLE * ASCENT, SMALL, anchor="end", role="place"))
        y = _stack(texts, [title], MARGIN, y, size=TITLE, role="title")
    else:
        y = _stack(texts, rows_of(title, width, TITLE, "mono"), MARGIN, y, size=TITLE, role="title")
        y = _stack(texts, rows_of(place, width, SMALL, "mono"), MARGIN, y, size=SMALL, role="place")
    remark = rows_of(shortened(visible(rung.remark or "")), width, REMARK, "sans")
    if rung.remark:
        y = _stack(texts, remark, MARGIN, y + 2, size=REMARK, role="remark")
    return y + 10


def _stack(texts: list[Text], rows: Sequence[str], x: float, y: float, *, size: float, role: str) -> float:
    """Rows of text from height `y` down; gives the height below them."""
    face: Literal["mono", "sans"] = "mono" if role in ("title", "place", "about") else "sans"
    for n, row in enumerate(rows):
        texts.append(Text(row, x, y + n * size * LEADING + size * ASCENT, size, face, "start", role))
    return y + len(rows) * size * LEADING


def _notes(texts: list[Text], notes: Sequence[Note], left: float, top: float, width: float) -> float:
    """Notes in a column: the line of the file in the gutter, the name, what is said of it. The height below."""
    y = top
    room = width - GUTTER
    x = left + GUTTER
    for note in notes:
        line = f"{note.line}" if note.line else ""
        if line:
            texts.append(Text(line, x - 8, y + NOTE * ASCENT, SMALL, anchor="end", role="line"))
        if note.name == "#":
            y = _stack(texts, rows_of(f"# {note.words[0]}", room, NOTE, "sans"), x, y, size=NOTE, role="comment")
        else:
            y = _stack(texts, rows_of(visible(note.name), room, NOTE, "mono"), x, y, size=NOTE, role="about")
            for words in note.words:
                y = _stack(texts, rows_of(words, room, NOTE, "sans"), x, y, size=NOTE, role="note")
        y += 6
    return y - 6 + NOTE * DESCENT


def _remarks(texts: list[Text], notes: Sequence[Note], left: float, top: float, width: float) -> float:
    """Remarks below a drawing, a row each where there is room: line, name, remark. The height below."""
    x = left + GUTTER
    column = max((text_width(visible(note.name), NOTE, "mono") for note in notes if note.name != "#"), default=0.0) + 12
    if column > width / 2:
        return _notes(texts, notes, left, top, width)
    y = top
    for note in notes:
        if note.line:
            texts.append(Text(f"{note.line}", x - 8, y + NOTE * ASCENT, SMALL, anchor="end", role="line"))
        if note.name == "#":
            y = _stack(
                texts, rows_of(f"# {note.words[0]}", width - GUTTER, NOTE, "sans"), x, y, size=NOTE, role="comment"
            )
        else:
            _stack(texts, [visible(note.name)], x, y, size=NOTE, role="about")
            rows = rows_of(note.words[0], width - GUTTER - column, NOTE, "sans")
            y = _stack(texts, rows, x + column, y, size=NOTE, role="note")
        y += 2
    return y - 2 + NOTE * DESCENT
