"""Reads a drawn rung back: follows the wire from the left rail and says what hangs in it.

Written apart from the code that draws: it knows the symbols, and nothing of pictures.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

#: pytest's importlib mode puts no folder on the path: the readers here, and the generators of the engines' tests.
sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "engines")]

CONTACTS = {"| |": "contact", "|/|": "not", "|P|": "rising", "|N|": "falling"}
COILS = {"( )": "coil", "(/)": "negated", "(S)": "set", "(R)": "reset"}


@dataclass
class DrawingReader:
    """`lines` are the rows between and with the rails."""

    lines: list[str]

    def read(self) -> list[Any]:
        """Items in series from the left rail: leaves are tuples, branches `("parallel", [...])`."""
        (row,) = [n for n, line in enumerate(self.lines) if line[0] == "+"]
        items, *_ = self._walk(row, 1)
        return items

    def _at(self, row: int, column: int, length: int = 1) -> str:
        if not 0 <= row < len(self.lines):
            return ""
        return self.lines[row][column : column + length]

    def _walk(self, row: int, column: int) -> tuple[list[Any], int, int]:
        """Items up to a closing joint or the right rail, and where that is."""
        items: list[Any] = []
        while True:
            here, three = self._at(row, column), self._at(row, column, 3)
            if column == len(self.lines[row]) - 1:
                assert here == "+", "a wire that ends at no joint of the right rail"
                return items, row, column
            if here == "-":
                column += 1
            elif three in CONTACTS:
                items.append((CONTACTS[three], self._label(row, column + 1)))
                column += 3
            elif three in COILS:
                items.append((COILS[three], self._label(row, column + 1)))
                column += 3
            elif here == "[":
                item, column = self._bracket(row, column)
                items.append(item)
            elif here == "|":
                item, column = self._box(row, column)
                items.append(item)
            elif here == ">":
                row, column = self._jump(row, column)
            elif here == "+":
                joints = self._joints(row, column)
                if len(joints) == 1 or self._at(joints[-1], column + 1) != "-":
                    return items, row, column
                ends = [self._walk(joint, column + 1) for joint in joints]
                items.append(("parallel", [end[0] for end in ends]))
                _, row, column = ends[0]
                if column == len(self.lines[row]) - 1:
                    return items, row, column
                assert {end[2] for end in ends} == {column}, "branches that end at different links"
                column += 1
            else:
                raise AssertionError(f"the wire breaks off at row {row}, column {column}: {here!r}")

    def _joints(self, row: int, column: int) -> list[int]:
        joints = [row]
        below = row + 1
        while self._at(below, column) in ("|", "+"):
            if self._at(below, column) == "+":
                joints.append(below)
            below += 1
        assert len(joints) > 1 or self._at(row - 1, column) in ("|", "+"), "a joint that joins nothing"
        return joints

    def _label(self, row: int, column: int) -> str:
        above = self.lines[row - 1]
        assert above[column] != " ", "a symbol without a name"
        start = above.rfind(" ", 0, column) + 1
        return above[start : above.find(" ", column)]

    def _bracket(self, row: int, column: int) -> tuple[Any, int]:
        end = self.lines[row].index(" ]", column) + 2
        texts = [self.lines[row][column + 2 : end - 2].strip()]
        below = row + 1
        while self._at(below, column) == "[" and self._at(below, column - 1) == " ":
            texts.append(self.lines[below][column + 2 : end - 2].strip())
            below += 1
        return ("text", " ".join(texts)), end

    def _box(self, row: int, column: int) -> tuple[Any, int]:
        end = self.lines[row].index(" |", column) + 2
        edge = "+" + "-" * (end - column - 2) + "+"
        assert self.lines[row - 1][column:end] == edge, "a box without its upper edge"
        middle = (column + end - 1) // 2
        texts, below = [], row
        while self.lines[below][column:end] != edge:
            texts.append(self.lines[below][column + 2 : end - 2].strip())
            below += 1
        return ("box", self._label(row - 1, middle), " ".join(texts)), end

    def _jump(self, row: int, column: int) -> tuple[int, int]:
        mark = self.lines[row][column : self.lines[row].index(">", column + 1) + 1]
        places = [(n, line.find(f" {mark}-")) for n, line in enumerate(self.lines) if f" {mark}-" in line]
        assert len(places) == 1, f"connector {mark} leads to {len(places)} places"
        ((target, at),) = places
        return target, at + 1 + len(mark)


@pytest.fixture(scope="session")
def read_back() -> Callable[[list[str]], list[Any]]:
    """The network that a drawn rung shows, from the printed lines of that rung."""

    def read(lines: list[str]) -> list[Any]:
        first = next(n for n, line in enumerate(lines) if line.startswith("+"))
        while lines[first - 1].startswith("|"):
            first -= 1
        rows = []
        for line in lines[first:]:
            if not line.startswith(("|", "+")):
                break
            rows.append(line)
        return DrawingReader(rows).read()

    return read
