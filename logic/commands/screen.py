"""Text for people: wrapped to the width, plain where nobody looks at a terminal."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import dataclass
from typing import TextIO

from rungproof.logic.evidence.wrapping import wrap

#: Columns of text where the width is not known, and the most that reads well.
USUAL, WIDEST, NARROWEST = 80, 100, 50


@dataclass(slots=True)
class Screen:
    """Where a command's text goes. `stream` None swallows it: JSON has standard output to itself."""

    stream: TextIO | None
    width: int = USUAL
    bold: bool = False

    @classmethod
    def standard(cls, *, quiet: bool = False) -> Screen:
        """Standard output; bold only on a terminal, and not where NO_COLOR is set."""
        if quiet:
            return cls(None)
        terminal = sys.stdout.isatty()
        width = min(max(shutil.get_terminal_size((USUAL, 24)).columns, NARROWEST), WIDEST) if terminal else USUAL
        plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
        return cls(sys.stdout, width, terminal and not plain)

    def line(self, text: str = "") -> None:
        if self.stream is not None:
            print(text, file=self.stream)

    def strong(self, text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if self.bold else text

    def paragraph(self, text: str, indent: int = 0) -> None:
        for row in self.rows(text, indent):
            self.line(row)

    def labelled(self, label: str, text: str, *, indent: int = 4, column: int = 15) -> None:
        """A label, and the text wrapped in a column of its own beside it."""
        first, *rest = self.rows(text, column)
        self.line(" " * indent + label.ljust(column - indent) + first[column:])
        for row in rest:
            self.line(row)

    def rows(self, text: str, indent: int = 0) -> list[str]:
        return [" " * indent + row for row in wrap(text, max(self.width - indent, 20))]
