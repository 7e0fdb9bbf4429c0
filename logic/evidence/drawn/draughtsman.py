"""Elements of a rung as blocks, with the graphical symbols of IEC 61131-3 (from memory).

A contact is two upright bars, with a slash for the break (or negated) contact, P or N for an
edge; a coil is two arcs, with a slash, S or R. A stage is a box under its name, an assignment a
box under the tag that receives the value; a comparison, or whatever has no symbol of its own,
is a box with its words. Below each element stands the line of the file that it comes from.

In a circuit the symbol says what the device is, not what the rung asks of it; see
`rungproof.logic.evidence.drawing_contacts`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.evidence.drawing_contacts import Contacts
from rungproof.logic.evidence.drawn.metrics import rows_of, text_width, visible
from rungproof.logic.evidence.drawn.nets import RAIL, Nets
from rungproof.logic.evidence.drawn.shapes import (
    ASCENT,
    DESCENT,
    HALF,
    LEAD,
    LEADING,
    NAME,
    REACH,
    SMALL,
    TURN,
    Block,
    Item,
    Symbol,
    SymbolKind,
    Text,
    Wire,
    fanned,
    folded,
    in_parallel,
    in_series,
    wire,
)

#: The widest a name stands before it is broken into rows; the narrowest and the widest box.
WIDEST_NAME, NARROWEST_BOX, WIDEST_BOX = 190.0, 60.0, 330.0
#: Between a symbol and the texts round it; inside a box; between a text and its block's edge.
CLEAR, PAD, EDGE = 4.0, 8.0, 6.0

EDGES: dict[str, SymbolKind] = {"rising": "rising", "falling": "falling"}


@dataclass(slots=True)
class Draughtsman:
    """Draws the elements of one rung into `width` wherever that can be done.

    `contacts` is None in a controller; in a circuit it says what each contact is, and names
    drawn without that being known are kept in `unknown`. `terminals` maps a tag to the terminal
    that is shown below its contact in a circuit. `elements` are the tree nodes drawn, by number;
    a number is what `Symbol.element` and `nets` speak of.
    """

    width: float
    contacts: Contacts | None = None
    terminals: Mapping[str, str] = field(default_factory=dict)
    nets: Nets = field(default_factory=Nets)
    elements: list[tree.Node] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)

    def rung(self, rung: tree.Rung) -> Block:
        """Elements in series from the left rail, then the outputs at the right one."""
        net = RAIL
        blocks = [wire(LEAD, net)]
        for element in rung.elements:
            block = self._element(element, net)
            net = block.net
            self.nets.line_ends.append(net)
            blocks.append(block)
        if rung.outputs:
            blocks.append(self._outputs(rung.outputs, net, self.width - 4 * TURN))
        rows = packed(blocks, self.width)
        end = rows[-1].pop() if rung.outputs else None
        indent = 2 * TURN if len(rows) > 1 else 0.0
        last = in_series(rows[-1]) if rows[-1] else None
        if end is not None:
            # Outputs stand at the right rail, whatever stands before them.
            lead = self.width - indent - end.width
            last = last.stretched(lead) if last is not None else wire(max(lead, LEAD), net)
            last = in_series([last, end])
        elif last is not None:
            last = last.stretched(self.width - indent)
        assert last is not None, "a row holds a block"
        return folded([*(in_series(row) for row in rows[:-1]), last], RAIL)

    def _element(self, element: tree.Condition | tree.Stage, net: int) -> Block:
        if isinstance(element, tree.Stage):
            return self._stage(element, net)
        return self._condition(element.expression, self.width - 4 * TURN, net)

    def _condition(self, expression: tree.Expression, room: float, net: int) -> Block:
        """Contacts, series and parallel branches; whatever else is a condition in a box."""
        match expression:
            case tree.Group(inner=inner):
                return self._condition(inner, room, net)
            case tree.Series(operands=operands):
                return self._series(operands, room, net)
            case tree.Parallel(operands=operands):
                branches = [self._condition(operand, room - 4 * LEAD, net) for operand in operands]
                return in_parallel(branches, net, self.nets.joined([branch.net for branch in branches]))
            case tree.Name(text=text) if self.contacts is not None:
                return self._device(expression, text, self.contacts, room, net)
            case tree.Name(text=text) if self.contacts is None:
                return self._contact(expression, text, "make", net)
            case tree.Not(operand=tree.Name(text=text)) if self.contacts is None:
                return self._contact(expression, text, "break", net)
            case tree.Edge(kind=kind, operand=tree.Name(text=text)) if self.contacts is None:
                return self._contact(expression, text, EDGES[kind], net)
            case _:
                return self._words(expression, room, net)

    def _series(self, operands: Sequence[tree.Expression], room: float, net: int) -> Block:
        blocks, before = [], net
        for operand in operands:
            block = self._condition(operand, room - 4 * TURN, before)
            before = block.net
            blocks.append(block)
        return folded([in_series(row) for row in packed(blocks, room)], net)

    # ------------------------------------------------------------------ symbols

    def _device(self, node: tree.Node, name: str, contacts: Contacts, room: float, net: int) -> Block:
        """A contact of a part by its kind; a point of the circuit is no contact."""
        kind = contacts.get(name)
        if kind == "node":
            return self._words(node, room, net)
        if kind is None and name not in self.unknown:
            self.unknown.append(name)
        return self._contact(node, name, "break" if kind == "break" else "make", net)

    def _number(self, node: tree.Node) -> int:
        self.elements.append(node)
        return len(self.elements) - 1

    def _contact(self, node: tree.Node, name: str, kind: SymbolKind, net: int) -> Block:
        element = self._number(node)
        return self._symbol(kind, element, name, net, self.nets.through(net, element))

    def _symbol(self, kind: SymbolKind, element: int, name: str, net: int, net_out: int) -> Block:
        """A symbol in the wire: its name above, its line below, in a circuit its terminal too."""
        node = self.elements[element]
        line, says = node.span.line, to_text(node)
        above = rows_of(visible(name), WIDEST_NAME, NAME, "mono")
        below = [f"{line}"] if line else []
        if self.contacts is not None and name in self.terminals:
            below.append(self.terminals[name])
        widest = max(*(text_width(row, NAME, "mono") for row in above), *(text_width(t, SMALL, "mono") for t in below))
        width = max(widest + 2 * EDGE, 2 * (HALF + LEAD))
        middle = width / 2
        texts = [*_rows_above(above, middle, -REACH - CLEAR), *_rows_below(below, middle, REACH + CLEAR)]
        top = -REACH - CLEAR - len(above) * NAME * LEADING
        bottom = REACH + CLEAR + len(below) * SMALL * LEADING
        symbol = Symbol(kind, element, middle, 0.0, says, tuple(texts), line)
        items = (
            Wire(((0.0, 0.0), (middle - HALF, 0.0)), net),
            Wire(((middle + HALF, 0.0), (width, 0.0)), net_out),
            symbol,
        )
        return Block(width, top, bottom, items, (0.0,), (net_out,))

    def _words(self, node: tree.Node, room: float, net: int) -> Block:
        element = self._number(node)
        return self._box(element, "", [to_text(node)], room, (net, self.nets.through(net, element)))

    def _stage(self, stage: tree.Stage, net: int) -> Block:
        """The kind in the wire, then the preset, what clears or loads it, `retained`."""
        rows: list[str] = [stage.kind]
        if stage.preset is not None:
            rows.append(to_text(stage.preset))
        if stage.by is not None:
            rows.append(f"{'load' if stage.kind == 'count-down' else 'clear'} by {stage.by.text}")
        if stage.retained:
            rows.append("retained")
        element = self._number(stage)
        made = self.nets.made(element)
        return self._box(element, stage.name, rows, self.width, (net, made))

    def _box(self, element: int, name: str, rows: Sequence[str], room: float, nets: tuple[int, int]) -> Block:
        """A box with rows of words; power passes through the first one. Its name above, its line below.

        `nets` are the power before it and behind it.
        """
        node = self.elements[element]
        line, says = node.span.line, to_text(node)
        net, net_out = nets
        room = min(max(room - 2 * (LEAD + PAD), NARROWEST_BOX), WIDEST_BOX)
        inside = [part for row in rows for part in rows_of(visible(row), room, NAME, "mono")]
        above = rows_of(visible(name), room, NAME, "mono") if name else []
        inner = max(text_width(row, NAME, "mono") for row in (*inside, *above))
        width = inner + 2 * PAD
        step = NAME * LEADING
        height = len(inside) * step + PAD
        upper = -step / 2 - PAD / 2
        texts = [
            Text(row, LEAD + PAD, upper + PAD / 2 + n * step + NAME * ASCENT, anchor="start", role="row")
            for n, row in enumerate(inside)
        ]
        middle = LEAD + width / 2
        texts += _rows_above(above, middle, upper - CLEAR)
        texts += _rows_below([f"{line}"] if line else [], middle, upper + height + CLEAR)
        box = Symbol("box", element, LEAD, upper, says, tuple(texts), line, width, height)
        items: tuple[Item, ...] = (
            Wire(((0.0, 0.0), (LEAD, 0.0)), net),
            Wire(((LEAD + width, 0.0), (LEAD + width + LEAD, 0.0)), net_out),
            box,
        )
        top = upper - (CLEAR + len(above) * step if above else 0.0)
        bottom = upper + height + (CLEAR + SMALL * LEADING if line else 0.0)
        return Block(width + 2 * LEAD, top, bottom, items, (0.0,), (net_out,))

    # ------------------------------------------------------------------ outputs

    def _outputs(self, outputs: Sequence[tree.Output], net: int, room: float) -> Block:
        """Every output with its own contacts before it, all led to the right edge."""
        inner = room - 2 * LEAD
        rows = []
        for output in outputs:
            when = None if output.when is None else self._condition(output.when, inner - 4 * TURN, net)
            coil = self._coil(output, net if when is None else when.net, inner)
            self.nets.line_ends.append(coil.net)
            rows.append((when, coil))
        if len(rows) == 1:
            ((when, coil),) = rows
            return folded([in_series(row) for row in packed([when, coil] if when else [coil], inner)], net)
        reach = max(min((when.width if when else 0.0) + coil.width, inner) for when, coil in rows)
        return fanned([self._led(when, coil, net, reach, inner) for when, coil in rows], net)

    def _led(self, when: Block | None, coil: Block, net: int, reach: float, inner: float) -> Block:
        """An output's contacts and its coil with wire between them, so that the coil ends at `reach`."""
        if when is not None and when.width + coil.width > reach:
            return folded([in_series(row) for row in packed([when, coil], inner)], net)
        missing = reach - coil.width
        if when is None:
            return in_series([wire(missing, net), coil]) if missing > 0 else coil
        return in_series([when.stretched(missing), coil])

    def _coil(self, output: tree.Output, net: int, room: float) -> Block:
        """The coil, or the box of an assignment. The power at it goes through it to the right rail."""
        element = self._number(output)
        name = output.target.text
        if output.kind == "assign":
            value = "" if output.value is None else to_text(output.value)
            return self._box(element, name, [f":= {value}"], room, (net, net))
        return self._symbol(output.kind, element, name, net, net)


def packed(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """Blocks shared out into rows: one row if it fits, else rows with room for the turns."""
    if sum(block.width for block in blocks) <= room:
        return [list(blocks)]
    rows: list[list[Block]] = []
    width = 0.0
    for block in blocks:
        if rows and width + block.width <= room - 4 * TURN:
            rows[-1].append(block)
            width += block.width
        else:
            rows.append([block])
            width = block.width
    if len(rows) > 1 and len(rows[0]) == 1 and not any(isinstance(item, Symbol) for item in rows[0][0].items):
        # A first row of nothing but wire would say nothing.
        rows[:2] = [[*rows[0], *rows[1]]]
    return rows


def _rows_above(rows: Sequence[str], x: float, y: float) -> list[Text]:
    """Rows of a name that end above height `y`."""
    step = NAME * LEADING
    return [Text(row, x, y - (len(rows) - 1 - n) * step - NAME * DESCENT) for n, row in enumerate(rows)]


def _rows_below(rows: Sequence[str], x: float, y: float) -> list[Text]:
    """Small rows that begin below height `y`: the line of the file, a terminal."""
    step = SMALL * LEADING
    return [
        Text(row, x, y + n * step + SMALL * ASCENT, SMALL, role="line" if n == 0 else "terminal")
        for n, row in enumerate(rows)
    ]
