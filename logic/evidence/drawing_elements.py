"""Elements of a rung as pictures, with the graphical symbols of IEC 61131-3 in characters.

    --| |--   contact                 --( )--   coil
    --|/|--   negated contact         --(/)--   negated coil
    --|P|--   rising edge             --(S)--   set
    --|N|--   falling edge            --(R)--   reset
    --[ level < 3 cm ]--   comparison, or a condition that has no symbol of its own

A stage is a box under its name; an assignment is a box under the tag that receives the value.

In a circuit the symbol says what the device is, not what the rung asks of it: `|/|` is a
break contact. No wire can negate, so whatever else the text says there stands in brackets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.evidence.drawing_contacts import Contacts
from rungproof.logic.evidence.picture import (
    LINK,
    Picture,
    beside,
    boxed,
    bracketed,
    fanned,
    folded,
    in_parallel,
    in_series,
    labelled,
    wire,
)
from rungproof.logic.evidence.wrapping import wrap

COILS: dict[tree.OutputKind, str] = {"coil": "( )", "negated": "(/)", "set": "(S)", "reset": "(R)"}
EDGES = {"rising": "P", "falling": "N"}
DEVICES = {"make": " ", "break": "/"}

#: Columns that a connector takes at both ends of a folded row: `>9>-` with a blank before, `->9>` behind.
CONNECTORS = 10
#: Columns of the links and stubs round parallel branches, of a box, and of a bracket.
LINKS, BOX, BRACKET = 4, 6, 6


@dataclass(slots=True)
class Draughtsman:
    """Draws elements into at most `width` columns wherever names allow it; connectors included.

    One draughtsman draws one rung: the connectors of folded rows are numbered through it.
    `contacts` is None in a controller; in a circuit it says what each contact is, and names
    drawn without that being known are kept in `unknown`.
    """

    width: int
    contacts: Contacts | None = None
    used: int = 0
    unknown: list[str] = field(default_factory=list)

    def element(self, element: tree.Condition | tree.Stage) -> Picture:
        if isinstance(element, tree.Stage):
            return self.stage(element)
        return self.condition(element.expression, self.width - CONNECTORS)

    def condition(self, expression: tree.Expression, room: int) -> Picture:
        """Contacts, series and parallel branches; whatever else is a condition in brackets."""
        match expression:
            case tree.Group(inner=inner):
                return self.condition(inner, room)
            case tree.Series(operands=operands):
                return self.series([self.condition(o, room - CONNECTORS) for o in operands], room)
            case tree.Parallel(operands=operands):
                return in_parallel([self.condition(o, room - LINKS) for o in operands])
            case tree.Name(text=text) if self.contacts is not None:
                return self._device(text, self.contacts, room)
            case _ if self.contacts is not None:
                return bracketed(wrap(to_text(expression), room - BRACKET))
            case tree.Name(text=text):
                return contact(text, " ")
            case tree.Not(operand=tree.Name(text=text)):
                return contact(text, "/")
            case tree.Edge(kind=kind, operand=tree.Name(text=text)):
                return contact(text, EDGES[kind])
            case _:
                return bracketed(wrap(to_text(expression), room - BRACKET))

    def _device(self, name: str, contacts: Contacts, room: int) -> Picture:
        """A contact of a part by its kind; a point of the circuit is no contact."""
        kind = contacts.get(name)
        if kind == "node":
            return bracketed(wrap(name, room - BRACKET))
        if kind is None and name not in self.unknown:
            self.unknown.append(name)
        return contact(name, DEVICES[kind or "make"])

    def series(self, pictures: Sequence[Picture], room: int) -> Picture:
        """Pictures one after the other, folded into rows where they do not fit."""
        rows = [in_series(row) for row in packed(pictures, room)]
        return folded(rows, [self.connector() for _ in rows[1:]])

    def stage(self, stage: tree.Stage) -> Picture:
        """A box with the kind in the wire, then the preset, what clears or loads it, `retained`."""
        rows: list[str] = [stage.kind]
        if stage.preset is not None:
            rows.append(to_text(stage.preset))
        if stage.by is not None:
            rows.append(f"{'load' if stage.kind == 'count-down' else 'clear'} by {stage.by.text}")
        if stage.retained:
            rows.append("retained")
        return boxed(stage.name, rows)

    def outputs(self, outputs: Sequence[tree.Output], room: int) -> Picture:
        """Every output with its own contacts before it, all led to the right edge."""
        inner = room - LINKS
        coils = [self._coil(output) for output in outputs]
        symbols = [coil.width for coil, output in zip(coils, outputs, strict=True) if output.kind != "assign"]
        coils = [
            beside(wire(max(symbols) - coil.width), coil) if output.kind != "assign" else coil
            for coil, output in zip(coils, outputs, strict=True)
        ]
        whens = [None if o.when is None else self.condition(o.when, inner - CONNECTORS) for o in outputs]
        pairs = list(zip(whens, coils, strict=True))
        reach = max(min((when.width if when else 1) + coil.width, inner) for when, coil in pairs)
        rows = [
            self.series([when, coil], inner)
            if when is not None and when.width + coil.width > reach
            else led(when or wire(1), coil, reach)
            for when, coil in pairs
        ]
        return rows[0] if len(rows) == 1 else fanned(rows)

    def _coil(self, output: tree.Output) -> Picture:
        if output.kind != "assign":
            return labelled(output.target.text, COILS[output.kind])
        value = "" if output.value is None else to_text(output.value)
        return boxed(output.target.text, wrap(f":= {value}", self.width * 3 // 5 - BOX))

    def connector(self) -> str:
        """A mark that this rung's drawing does not bear yet."""
        self.used += 1
        return f">{self.used}>"


def led(first: Picture, last: Picture, reach: int) -> Picture:
    """Two pictures in series with wire between them, so that the second ends at column `reach`."""
    return beside(first.stretched(reach - last.width), last)


def packed(pictures: Sequence[Picture], room: int) -> list[list[Picture]]:
    """Pictures shared out into rows: one row if it fits, else rows with room for connectors."""
    if sum(picture.width for picture in pictures) <= room:
        return [list(pictures)]
    rows: list[list[Picture]] = []
    width = 0
    for picture in pictures:
        if rows and width + picture.width <= room - CONNECTORS:
            rows[-1].append(picture)
            width += picture.width
        else:
            rows.append([picture])
            width = picture.width
    return rows


def contact(name: str, kind: str) -> Picture:
    return labelled(name, f"{LINK}{kind}{LINK}")
