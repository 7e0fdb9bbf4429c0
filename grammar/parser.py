"""Text to tree, line by line: a broken line loses itself and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from lark.exceptions import UnexpectedInput

from rungproof.grammar.blocks import OpenBlock, close_block
from rungproof.grammar.build_headers import Header
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.line_parser import LOCK, LineKind, line_parser
from rungproof.grammar.reserved import BLOCK_WORDS
from rungproof.grammar.source import SourceLine, read_line, split_lines
from rungproof.grammar.tree import Block, SourceFile, Span

#: How the lines inside a block are read. `use` and `controller` have none.
BODIES: dict[str, LineKind] = {
    "tags": "tag",
    "rung": "path",
    "circuit": "path",
    "plant": "part",
    "wiring": "wiring",
    "hazard": "hazard",
    "requirement": "requirement",
    "assume": "assume",
    "scenario": "scenario",
}


@dataclass(slots=True)
class ReadLine:
    """A line and what it says: `node` is None for blank lines, comments and broken lines."""

    source: SourceLine
    node: Any = None
    depth: int = 0


@dataclass(slots=True)
class Reading:
    """A file being read: its lines, its closed blocks, and the block that is open."""

    path: str
    reporter: Reporter
    lines: list[ReadLine] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    open: OpenBlock | None = None

    def take(self, source: SourceLine) -> None:
        line = ReadLine(source)
        self.lines.append(line)
        if source.is_blank:
            return
        if source.indent == 0:
            self._take_header(line)
        else:
            self._take_body(line)

    def close(self) -> None:
        if self.open is not None:
            block = close_block(self.open, self.reporter)
            if block is not None:
                self.blocks.append(block)
            self.open = None

    def _take_header(self, line: ReadLine) -> None:
        self.close()
        word = line.source.code.split(maxsplit=1)[0]
        line.node = self._parse("header", line.source)
        self.open = OpenBlock(word, self._span(line.source), line.node)
        if line.node is not None:
            self.open.span = line.node.span

    def _take_body(self, line: ReadLine) -> None:
        if self.open is None:
            self.reporter.report("line-outside-block", self._span(line.source))
            return
        words = line.source.code.split(maxsplit=1)
        inner = self.open.word == "circuit" and words[0] == "rung"
        kind = "header" if inner else BODIES[self.open.word]
        line.depth = 2 if self.open.word == "circuit" and not inner else 1
        line.node = self._parse(kind, line.source)
        if line.node is None:
            self.open.damaged = True
        else:
            self.open.nodes.append(line.node)

    def _parse(self, kind: LineKind, source: SourceLine) -> Any:
        parser = line_parser(kind)
        place = parser.place
        place.file, place.line, place.reporter = self.path, source.number, self.reporter
        try:
            return parser.parse(source.code)
        except UnexpectedInput as error:
            self.reporter.report("unexpected", self._span(source), found="this line", expected=str(error))
            return None

    def _span(self, source: SourceLine) -> Span:
        code = source.code.rstrip()
        return Span(self.path, source.number, len(code) - len(code.lstrip()) + 1, len(code) + 1)


def read_text(text: str, path: str, reporter: Reporter) -> Reading:
    """The lines of a text with what each says, and the blocks they make."""
    reading = Reading(path, reporter)
    with LOCK:
        for number, line in enumerate(split_lines(text), start=1):
            reading.take(read_line(number, line))
        reading.close()
    return reading


def parse_text(text: str, path: str, reporter: Reporter) -> SourceFile:
    """The tree of a text. Every mistake goes to the reporter; what was readable is in the tree."""
    return SourceFile(path, tuple(read_text(text, path, reporter).blocks))
