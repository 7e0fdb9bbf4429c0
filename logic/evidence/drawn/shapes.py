"""The items of a drawing, and blocks of items that join to a rung.

Lengths are in units of the drawing (a CSS pixel at its natural size). A block's coordinates
count from the point at which power enters it: x to the right, y down.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rungproof.logic.evidence.drawn.metrics import Face, text_width

#: Font sizes: names and what stands in boxes, line numbers and terminals.
NAME, SMALL = 13.0, 10.5
#: Distance of the baselines of rows of text, and from a row's top to its baseline, as parts of its size.
LEADING, ASCENT, DESCENT = 1.3, 0.96, 0.28
#: Half the width and half the height of a contact and of a coil.
HALF, REACH = 9.0, 10.0
#: The least wire on both sides of a symbol, and what lies between rows of branches.
LEAD, ROW_GAP = 9.0, 12.0

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire through points, each leg upright or level, with the power of `net`. `rail`: it is the left rail."""

    points: tuple[Point, ...]
    net: int
    rail: bool = False

    def moved(self, dx: float, dy: float) -> Wire:
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class Dot:
    """Where wires join."""

    x: float
    y: float
    net: int

    def moved(self, dx: float, dy: float) -> Dot:
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, slots=True)
class Text:
    """One row of text. `x`, `y` is the start, middle or end of its baseline, as `anchor` says."""

    text: str
    x: float
    y: float
    size: float = NAME
    face: Face = "mono"
    anchor: Anchor = "middle"
    role: str = "name"

    def moved(self, dx: float, dy: float) -> Text:
        return replace(self, x=self.x + dx, y=self.y + dy)

    @property
    def width(self) -> float:
        return text_width(self.text, self.size, self.face)


SymbolKind = Literal["make", "break", "rising", "falling", "coil", "negated", "set", "reset", "box"]


@dataclass(frozen=True, slots=True)
class Symbol:
    """An element of the rung: a symbol centred on the wire at `x`, `y`, or a box of `width` by `height` from there.

    `element` counts the elements of a rung in the order of the file, outputs last; `says` is the
    element in the words of the file; `texts` belong to it: its name, its rows, its line.
    """

    kind: SymbolKind
    element: int
    x: float
    y: float
    says: str
    texts: tuple[Text, ...]
    line: int = 0
    width: float = 2 * HALF
    height: float = 2 * REACH

    def moved(self, dx: float, dy: float) -> Symbol:
        texts = tuple(text.moved(dx, dy) for text in self.texts)
        return replace(self, x=self.x + dx, y=self.y + dy, texts=texts)


Item = Wire | Dot | Text | Symbol


@dataclass(frozen=True, slots=True)
class Block:
    """Items between (0, 0), where power enters, and (width, y) for each y of `leaves`.

    Nothing reaches above `top` (0 or negative) or below `bottom` (0 or more). `net` is the power
    that leaves; where there are several leaves they end the rung, and each has a net of its own.
    """

    width: float
    top: float
    bottom: float
    items: tuple[Item, ...]
    leaves: tuple[float, ...]
    nets: tuple[int, ...]

    @property
    def leave(self) -> float:
        return self.leaves[0]

    @property
    def net(self) -> int:
        return self.nets[0]

    def moved(self, dx: float, dy: float) -> tuple[Item, ...]:
        return tuple(item.moved(dx, dy) for item in self.items)

    def stretched(self, width: float) -> Block:
        """The same with wire added behind, up to `width`."""
        if width <= self.width:
            return self
        more = tuple(Wire(((self.width, y), (width, y)), net) for y, net in zip(self.leaves, self.nets, strict=True))
        return replace(self, width=width, items=(*self.items, *more))


def wire(length: float, net: int) -> Block:
    return Block(length, 0.0, 0.0, (Wire(((0.0, 0.0), (length, 0.0)), net),), (0.0,), (net,))


def in_series(blocks: Sequence[Block]) -> Block:
    """Blocks one behind the other."""
    x = y = top = bottom = 0.0
    items: list[Item] = []
    leaves: tuple[float, ...] = (0.0,)
    for block in blocks:
        items += block.moved(x, y)
        top, bottom = min(top, y + block.top), max(bottom, y + block.bottom)
        leaves = tuple(y + leave for leave in block.leaves)
        x, y = x + block.width, leaves[0]
    return Block(x, top, bottom, tuple(items), leaves, blocks[-1].nets)


def _heights(blocks: Sequence[Block], gap: float) -> list[float]:
    """The y of each block's entry, so that each lies under the one before."""
    places = [0.0]
    for above, below in itertools.pairwise(blocks):
        places.append(places[-1] + above.bottom + gap - below.top)
    return places


def in_parallel(blocks: Sequence[Block], net_in: int, net_out: int) -> Block:
    """Branches between two upright links; power comes and goes at the first one."""
    places = _heights(blocks, ROW_GAP)
    left = LEAD
    right = left + LEAD + max(block.width for block in blocks) + LEAD
    items: list[Item] = [Wire(((0.0, 0.0), (left, 0.0)), net_in), *_link(left, places, net_in)]
    ends = []
    for block, y in zip(blocks, places, strict=True):
        whole = in_series([wire(LEAD, net_in), block]).stretched(right - left)
        items += whole.moved(left, y)
        ends.append(y + whole.leave)
    items += _link(right, ends, net_out)
    items.append(Wire(((right, ends[0]), (right + LEAD, ends[0])), net_out))
    bottom = places[-1] + blocks[-1].bottom
    return Block(right + LEAD, blocks[0].top, bottom, tuple(items), (ends[0],), (net_out,))


def fanned(blocks: Sequence[Block], net_in: int) -> Block:
    """Branches that begin at one upright link and are led on, each in its own row."""
    places = _heights(blocks, ROW_GAP)
    width = LEAD + max(block.width for block in blocks)
    items: list[Item] = [Wire(((0.0, 0.0), (LEAD, 0.0)), net_in), *_link(LEAD, places, net_in)]
    leaves: list[float] = []
    nets: list[int] = []
    for block, y in zip(blocks, places, strict=True):
        whole = in_series([wire(LEAD, net_in), block]).stretched(width)
        items += whole.moved(LEAD, y)
        leaves += [y + leave for leave in whole.leaves]
        nets += whole.nets
    bottom = places[-1] + blocks[-1].bottom
    return Block(LEAD + width, blocks[0].top, bottom, tuple(items), tuple(leaves), tuple(nets))


def _link(x: float, places: Sequence[float], net: int) -> Iterable[Item]:
    """An upright wire through the given heights, with a dot at each joint of three wires."""
    first, *others = places
    last = max(places)
    yield Wire(((x, min(places)), (x, last)), net)
    yield Dot(x, first, net)
    for y in others:
        if y != last:
            yield Dot(x, y, net)


#: How far a wire that goes on in the next row stays away from what it passes.
TURN = 11.0


def folded(rows: Sequence[Block], net_in: int) -> Block:
    """Rows one under the other; a wire leads from the end of each back to the start of the next one."""
    if len(rows) == 1:
        return rows[0]
    far = 2 * TURN + max(row.width for row in rows[:-1])
    near, start = TURN, 2 * TURN
    items: list[Item] = [Wire(((0.0, 0.0), (start, 0.0)), net_in)]
    y = 0.0
    for row, below in itertools.pairwise(rows):
        items += row.moved(start, y)
        out, lane = y + row.leave, y + row.bottom + TURN
        after = lane + TURN - below.top
        across = ((start + row.width, out), (far + TURN, out), (far + TURN, lane), (near, lane))
        items.append(Wire((*across, (near, after), (start, after)), row.net))
        y = after
    last = rows[-1]
    items += last.moved(start, y)
    leaves = tuple(y + leave for leave in last.leaves)
    block = Block(start + last.width, rows[0].top, y + last.bottom, tuple(items), leaves, last.nets)
    return block.stretched(max(far + 2 * TURN, block.width))


def without_seams(items: Sequence[Item]) -> list[Item]:
    """The same with level wires of one net that meet end to end drawn in one stroke."""
    level = [item for item in items if isinstance(item, Wire) and _is_level(item)]
    begun = Counter(_place(each.points[0], each.net) for each in level)
    starts = {place: each for each in level if begun[place := _place(each.points[0], each.net)] == 1}
    followed = {_place(each.points[-1], each.net) for each in level} & starts.keys()
    found: list[Item] = []
    for item in items:
        if not isinstance(item, Wire) or not _is_level(item):
            found.append(item)
        elif _place(item.points[0], item.net) not in followed:
            end = item.points[-1]
            while (behind := starts.get(_place(end, item.net))) is not None:
                end = behind.points[-1]
            found.append(replace(item, points=(item.points[0], end)))
    return found


def _is_level(item: Item) -> bool:
    """Whether it is a straight wire to the right that can be seen, and no rail."""
    if not isinstance(item, Wire) or item.rail or len(item.points) != 2:
        return False
    (x1, y1), (x2, y2) = item.points
    return abs(y1 - y2) < 0.01 and x2 - x1 > 0.1


def _place(point: Point, net: int) -> tuple[int, int, int]:
    return round(point[0] * 20), round(point[1] * 20), net
