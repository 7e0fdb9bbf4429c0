"""Pictures of text: rectangles of characters that power enters on the left and leaves on the right.

A picture knows the row at which power enters and the row at which it leaves, so that pictures
join side by side, one under the other between vertical links, or folded into several rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WIRE, LINK, JOINT = "-", "|", "+"


@dataclass(frozen=True, slots=True)
class Picture:
    """Lines of one width; power enters at row `enter` and leaves at rows `leaves`, from 0.

    Only outputs side by side under one link leave at more rows than one: they end the rung.
    """

    lines: tuple[str, ...]
    enter: int
    leaves: tuple[int, ...]

    @property
    def leave(self) -> int:
        return self.leaves[0]

    @property
    def width(self) -> int:
        return len(self.lines[0])

    @property
    def height(self) -> int:
        return len(self.lines)

    def stretched(self, width: int) -> Picture:
        """The same with wire added behind, up to `width`."""
        more = width - self.width
        if more <= 0:
            return self
        lines = tuple(line + (WIRE if row in self.leaves else " ") * more for row, line in enumerate(self.lines))
        return Picture(lines, self.enter, self.leaves)


def wire(length: int) -> Picture:
    return Picture((WIRE * length,), 0, (0,))


def labelled(label: str, symbol: str) -> Picture:
    """A symbol in the wire with its name above: two rows, power in the lower one."""
    width = max(len(label), len(symbol)) + 2
    return Picture((label.center(width), symbol.center(width, WIRE)), 1, (1,))


def boxed(label: str, rows: Sequence[str]) -> Picture:
    """A box with `rows` inside and its name above; power passes through the first row."""
    inner = max(len(row) for row in rows)
    edge = JOINT + WIRE * (inner + 2) + JOINT
    lines = [edge, *(f"{LINK} {row.ljust(inner)} {LINK}" for row in rows), edge]
    return _mounted(label, lines, 1)


def bracketed(rows: Sequence[str]) -> Picture:
    """Rows of text in brackets: a comparison, or what has no symbol of its own.

    The empty row above keeps its wire apart from a link that ends in the row above that.
    """
    inner = max(len(row) for row in rows)
    return _mounted("", [f"[ {row.ljust(inner)} ]" for row in rows], 0)


def _mounted(label: str, lines: list[str], axis: int) -> Picture:
    """Lines hung into the wire at row `axis`, with a name above them."""
    width = max(len(lines[0]), len(label)) + 2
    rows = [line.center(width, WIRE if row == axis else " ") for row, line in enumerate(lines)]
    return Picture((label.center(width), *rows), axis + 1, (axis + 1,))


def beside(left: Picture, right: Picture) -> Picture:
    """Two pictures in series."""
    shift = left.leave - right.enter
    top, bottom = min(0, shift), max(left.height, right.height + shift)
    lines = []
    for row in range(top, bottom):
        a = left.lines[row] if 0 <= row < left.height else " " * left.width
        b = right.lines[row - shift] if 0 <= row - shift < right.height else " " * right.width
        lines.append(a + b)
    return Picture(tuple(lines), left.enter - top, tuple(row + shift - top for row in right.leaves))


def in_series(pictures: Sequence[Picture]) -> Picture:
    joined = pictures[0]
    for picture in pictures[1:]:
        joined = beside(joined, picture)
    return joined


def _apart(picture: Picture) -> Picture:
    """With an empty row above its wire, lest its links seem to go on from those of a picture above."""
    if picture.enter > 0:
        return picture
    rows = (" " * picture.width, *picture.lines)
    return Picture(rows, 1, tuple(row + 1 for row in picture.leaves))


def stacked(pictures: Sequence[Picture]) -> tuple[list[str], list[int], list[int]]:
    """Pictures one under the other, all at the widest one's width: lines, entries, exits."""
    width = max(picture.width for picture in pictures)
    lines: list[str] = []
    enters, leaves = [], []
    for place, picture in enumerate(pictures):
        wide = (_apart(picture) if place else picture).stretched(width)
        enters.append(len(lines) + wide.enter)
        leaves.append(len(lines) + wide.leave)
        lines += wide.lines
    return lines, enters, leaves


def column(height: int, joints: Sequence[int]) -> list[str]:
    """A vertical link: joints at the given rows, the link between the first and the last."""
    first, last = min(joints), max(joints)
    return [JOINT if row in joints else LINK if first < row < last else " " for row in range(height)]


def in_parallel(pictures: Sequence[Picture]) -> Picture:
    """Branches between two vertical links; power comes and goes at the first branch."""
    lines, enters, leaves = stacked(pictures)
    left, right = column(len(lines), enters), column(len(lines), leaves)
    rows = tuple(a + line + b for a, line, b in zip(left, lines, right, strict=True))
    return beside(beside(wire(1), Picture(rows, enters[0], (leaves[0],))), wire(1))


def fanned(pictures: Sequence[Picture]) -> Picture:
    """Branches that begin at one vertical link, each led on to the right in its own row."""
    lines, enters, leaves = stacked(pictures)
    left = column(len(lines), enters)
    rows = tuple(a + line for a, line in zip(left, lines, strict=True))
    return beside(wire(1), Picture(rows, enters[0], tuple(leaves)))


def folded(rows: Sequence[Picture], marks: Sequence[str]) -> Picture:
    """Rows one under the other; mark i leads from the end of row i to the start of row i + 1.

    The marks are connectors as IEC 61131-3 has them, `>1>` at both places.
    """
    parts = []
    for place, row in enumerate(rows):
        start = [Picture((f" {marks[place - 1]}{WIRE}",), 0, (0,))] if place else []
        end = [Picture((f"{WIRE}{marks[place]}",), 0, (0,))] if place < len(marks) else []
        part = in_series([*start, row, *end])
        parts.append(_apart(part) if place else part)
    width = max(part.width for part in parts)
    last = parts[-1].stretched(width)
    lines = [line.ljust(width) for part in parts[:-1] for line in part.lines]
    leaves = tuple(len(lines) + row for row in last.leaves)
    return Picture((*lines, *last.lines), parts[0].enter, leaves)
