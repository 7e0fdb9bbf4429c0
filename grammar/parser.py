"""Text to tree, line by line: a broken line loses itself and nothing else."""

from __future__ import annotations

import re
from typing import Any

from lark.exceptions import UnexpectedInput
from rungproof.grammar.blocks import OpenBlock, close_block
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.drawable import check_path_line
from rungproof.grammar.explain import explain, fits
from rungproof.grammar.headers import nearest_header
from rungproof.grammar.line_checks import HIDDEN, LONGEST_LINE, check_depth, check_hidden, may_be_parsed
from rungproof.grammar.line_parser import LOCK, LineKind, LineParser, line_parser
from rungproof.grammar.reserved import BLOCK_WORDS
from rungproof.grammar.source import ReadLine, SourceLine, read_line, split_lines
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
    "exclude": "exclude",
    "scenario": "scenario",
}
#: Mistakes of one file that are explained; after that the file is not read on.
MOST_MISTAKES = 300

_WORD = re.compile(r"[A-Za-z][A-Za-z0-9_.]*")
_UNKNOWN = ""


class Reading:
    """A file being read: its lines, its closed blocks, and the block that is open."""

    def __init__(self, path: str, reporter: Reporter) -> None:
        self.path = path
        self.reporter = reporter
        self.lines: list[ReadLine] = []
        self.blocks: list[Block] = []
        self.unread_names: set[str] = set()
        self._open: OpenBlock | None = None
        self._block_from = 0
        self._mistakes_before = len(reporter.found)
        self._tab_reported = False

    @property
    def given_up(self) -> bool:
        return len(self.reporter.found) - self._mistakes_before >= MOST_MISTAKES

    def take(self, number: int, text: str, may_hide: bool) -> None:
        """Read the next line."""
        too_long = len(text) > LONGEST_LINE
        source = read_line(number, text[:LONGEST_LINE] if too_long else text)
        line = ReadLine(source)
        self.lines.append(line)
        if too_long:
            span = Span(self.path, number, LONGEST_LINE, LONGEST_LINE + 1)
            self.reporter.report("line-too-long", span, length=len(text), limit=LONGEST_LINE)
            self._lose_unread(line)
        elif may_hide and not check_hidden(text, number, self.path, self.reporter):
            self._lose_unread(line)
        elif not source.is_blank:
            self._check_tab(source, text)
            if source.indent == 0:
                self._take_header(line)
            else:
                self._take_body(line)

    def close(self) -> None:
        """Close the block that is open: the file ends, or another block begins."""
        if self._open is None:
            return
        block = close_block(self._open, self.reporter)
        if block is not None:
            self.blocks.append(block)
        else:
            for line in self.lines[self._block_from :]:
                self.unread_names.update(_WORD.findall(line.source.code))
        self._open = None

    # ------------------------------------------------------------------ headers

    def _take_header(self, line: ReadLine) -> None:
        source = line.source
        word = _first_word(source)
        if word in BLOCK_WORDS:
            misplaced = self._open is not None and not self._fits("header", source) and self._fits_body(source)
            if not misplaced:
                self._begin(line, word, self._parse("header", source))
                return
        better = None if word in BLOCK_WORDS else nearest_header(self._parser("header", source), source.code, word)
        if better is not None:
            self.reporter.report("unknown-block-word", self._span_of(word, source), found=word, better=better)
            mended = source.code.replace(word, better, 1)
            self._begin(line, better, self._parser("header", source).parse(mended))
        elif self._open is not None and self._fits_body(source):
            mistakes = len(self.reporter.found)
            self._add(line, BODIES[self._open.word])
            if len(self.reporter.found) == mistakes:
                self.reporter.report("not-indented", self._span(source), word=self._open.word)
        else:
            self.close()
            self.reporter.report("unknown-block", self._span_of(word or source.code.strip(), source), found=word)
            self._begin(line, _UNKNOWN, None)

    def _begin(self, line: ReadLine, word: str, header: Any) -> None:
        self.close()
        self._block_from = len(self.lines) - 1
        line.node = header
        span = self._span(line.source) if header is None else header.span
        self._open = OpenBlock(word, span, header)

    # ------------------------------------------------------------------- bodies

    def _take_body(self, line: ReadLine) -> None:
        source = line.source
        word = _first_word(source)
        inner_rung = word == "rung" and self._open is not None and self._open.word == "circuit"
        if word in BLOCK_WORDS and not inner_rung and self._fits("header", source):
            self.reporter.report("header-indented", self._span(source), word=word)
            self._begin(line, word, self._parse("header", source))
        elif self._open is None:
            self.reporter.report("line-outside-block", self._span(source))
            self._begin(line, _UNKNOWN, None)
        elif self._open.word == _UNKNOWN:
            return
        elif self._open.word not in BODIES:
            if not self._open.damaged:
                self.reporter.report("lines-not-allowed", self._span(source), word=self._open.word)
            self._open.damaged = True
        elif self._open.word == "circuit" and not inner_rung and not self._open.indents:
            if not self._open.damaged:
                self.reporter.report("line-outside-rung", self._span(source))
            self._lose(source)
        else:
            self._check_indent(source, inner_rung)
            self._add(line, "header" if inner_rung else BODIES[self._open.word])

    def _add(self, line: ReadLine, kind: LineKind) -> None:
        assert self._open is not None
        line.depth = 2 if self._open.word == "circuit" and kind == "path" else 1
        line.node = self._parse(kind, line.source)
        if line.node is not None:
            self._open.nodes.append(line.node)

    def _check_indent(self, source: SourceLine, inner_rung: bool) -> None:
        assert self._open is not None
        level = 1 if inner_rung or self._open.word != "circuit" else 2
        usual = self._open.indents.setdefault(level, source.indent)
        above = self._open.indents.get(1, 0) if level == 2 else 0
        if (source.indent != usual or source.indent <= above) and not self._open.uneven:
            self._open.uneven = True
            self.reporter.report("uneven-indentation", self._span(source), here=source.indent, usual=usual)

    def _check_tab(self, source: SourceLine, text: str) -> None:
        blanks = text[: len(text) - len(text.lstrip())]
        if "\t" in blanks and not self._tab_reported:
            self._tab_reported = True
            self.reporter.report("tab-indentation", Span(self.path, source.number, 1, len(blanks) + 1))

    # ------------------------------------------------------------------ parsing

    def _parse(self, kind: LineKind, source: SourceLine) -> Any:
        if not may_be_parsed(source, self.path, self.reporter):
            self._lose(source)
            return None
        parser = self._parser(kind, source)
        try:
            node = parser.parse(source.code)
        except UnexpectedInput as error:
            explain(parser, source.code, error)
            self._lose(source)
            return None
        if not check_depth(node, source, self._span(source), self.reporter):
            self._lose(source)
            return None
        if kind == "path" and not check_path_line(parser.place, node):
            self._lose(source)
            return None
        return node

    def _parser(self, kind: LineKind, source: SourceLine) -> LineParser:
        """The parser of this kind of line, told which line it reads."""
        parser = line_parser(kind)
        place = parser.place
        place.file, place.line, place.reporter = self.path, source.number, self.reporter
        return parser

    def _fits(self, kind: LineKind, source: SourceLine) -> bool:
        return fits(self._parser(kind, source), source.code)

    def _fits_body(self, source: SourceLine) -> bool:
        return self._open is not None and self._open.word in BODIES and self._fits(BODIES[self._open.word], source)

    def _lose_unread(self, line: ReadLine) -> None:
        """Lose a line that no grammar saw; as a header it still opens its block."""
        word = _first_word(line.source)
        if line.source.indent == 0 and not line.source.is_blank:
            self._begin(line, word if word in BLOCK_WORDS else _UNKNOWN, None)
        self._lose(line.source)

    def _lose(self, source: SourceLine) -> None:
        self.unread_names.update(_WORD.findall(source.code))
        self._damage()

    def _damage(self) -> None:
        if self._open is not None:
            self._open.damaged = True

    def _span(self, source: SourceLine) -> Span:
        code = source.code.rstrip()
        return Span(self.path, source.number, len(code) - len(code.lstrip()) + 1, len(code) + 1)

    def _span_of(self, word: str, source: SourceLine) -> Span:
        at = source.code.find(word)
        return Span(self.path, source.number, at + 1, at + len(word) + 1)


def _first_word(source: SourceLine) -> str:
    found = _WORD.match(source.code.lstrip())
    return found[0] if found else ""


def read_text(text: str, path: str, reporter: Reporter) -> Reading:
    """The lines of a text with what each says, and the blocks they make."""
    reading = Reading(path, reporter)
    text = text.removeprefix("\ufeff")
    with LOCK:
        may_hide = HIDDEN.search(text) is not None
        for number, line in enumerate(split_lines(text), start=1):
            if reading.given_up:
                reporter.report("too-many-mistakes", Span(path, number, 1, 2), limit=MOST_MISTAKES)
                break
            reading.take(number, line, may_hide)
        reading.close()
    if not reading.blocks and not reporter.has_errors:
        reporter.report("file-empty", Span(path, 1, 1, 2))
    return reading


def parse_text(text: str, path: str, reporter: Reporter) -> SourceFile:
    """The tree of a text. Every mistake goes to the reporter; what was readable is in the tree.

    `path` is the name that spans and messages show. Nothing is raised for any text.
    """
    reading = read_text(text, path, reporter)
    return SourceFile(path, tuple(reading.blocks), frozenset(reading.unread_names))
