"""Reading a project: one folder's `.rung` files, or one file with what it `use`s.

A folder holds one project. `use` reaches files of the same folder only, so that opening a
folder never touches anything outside it. A file stands after the files it uses, and its
blocks in the order written.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.files import read_file_text
from rungproof.grammar.parser import parse_text
from rungproof.grammar.tree import Block, Hazard, Plant, Requirement, SourceFile, Span, Use
from rungproof.logic.meaning.program import SourceText

SUFFIX = ".rung"


class Shelf(Protocol):
    """Where files of one folder come from, by bare name."""

    def names(self) -> tuple[str, ...]:
        """Every `.rung` file there is, in name order."""

    def label(self, name: str) -> str:
        """What the file is called in places and messages."""

    def outside(self, name: str) -> bool:
        """Whether the name leads out of the folder, be it by a link."""

    def read(self, name: str, reporter: Reporter) -> str | None:
        """The text; None where it cannot be read, with the diagnosis reported."""


@dataclass(frozen=True, slots=True)
class TextShelf:
    """Files in memory."""

    files: Mapping[str, str]

    def names(self) -> tuple[str, ...]:
        return tuple(sorted(self.files))

    def label(self, name: str) -> str:
        return name

    def outside(self, name: str) -> bool:
        return False

    def read(self, name: str, reporter: Reporter) -> str | None:
        return self.files[name]


@dataclass(frozen=True, slots=True)
class FolderShelf:
    """Files on disk. `folder` is as the user wrote it, so that places read as they would write them."""

    folder: Path

    def names(self) -> tuple[str, ...]:
        return tuple(sorted(p.name for p in self.folder.iterdir() if p.suffix == SUFFIX and p.is_file()))

    def label(self, name: str) -> str:
        return str(self.folder / name)

    def outside(self, name: str) -> bool:
        return (self.folder / name).resolve().parent != self.folder.resolve()

    def read(self, name: str, reporter: Reporter) -> str | None:
        return read_file_text(self.folder / name, self.label(name), reporter)


@dataclass(slots=True)
class Project:
    """What was read: texts with their digests, and all blocks in order."""

    sources: list[SourceText] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)


@dataclass(slots=True)
class _Loader:
    shelf: Shelf
    reporter: Reporter
    project: Project = field(default_factory=Project)
    done: set[str] = field(default_factory=set)
    open: list[tuple[str, Span]] = field(default_factory=list)

    def load(self, name: str, asked: Span) -> None:
        """Read a file and what it uses; a file already there is not read again."""
        if name in self.done:
            return
        self.done.add(name)
        text = self.shelf.read(name, self.reporter)
        if text is None:
            return
        label = self.shelf.label(name)
        digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
        tree = parse_text(text, label, self.reporter)
        self.open.append((name, asked))
        for block in tree.blocks:
            if isinstance(block, Use):
                self._use(block, name, tree)
        self.open.pop()
        self.project.sources.append(SourceText(label, text, digest))
        self.project.blocks += [b for b in tree.blocks if not isinstance(b, Use)]

    def _use(self, use: Use, name: str, tree: SourceFile) -> None:
        first = next(b for b in tree.blocks if isinstance(b, Use) and b.file == use.file)
        if first is not use:
            self.reporter.report("use-twice", use.span, file=use.file, related=((first.span, "used here first"),))
        elif use.file == name:
            self.reporter.report("use-itself", use.span, file=use.file)
        elif self._reachable(use):
            stack = [n for n, _ in self.open]
            if use.file in stack:
                self._cycle(use, stack.index(use.file))
            else:
                self.load(use.file, use.span)

    def _reachable(self, use: Use) -> bool:
        """Whether the name is that of a `.rung` file of this folder; reports it where not."""
        file = use.file
        parts = file.replace("\\", "/").split("/")
        if len(parts) > 1 or file in ("", ".", "..") or ":" in file or "\0" in file:
            self.reporter.report("use-outside-folder", use.span, file=file)
        elif not file.endswith(SUFFIX):
            self.reporter.report("use-not-rung", use.span, file=file)
        elif file not in self.shelf.names():
            near = difflib.get_close_matches(file, self.shelf.names(), 1)
            mend = f'did you mean `use "{near[0]}"`?' if near else None
            self.reporter.report("use-missing", use.span, file=file, mend=mend)
        elif self.shelf.outside(file):
            self.reporter.report("use-outside-folder", use.span, file=file)
        else:
            return True
        return False

    def _cycle(self, use: Use, start: int) -> None:
        names = [n for n, _ in self.open[start:]] + [use.file]
        related = tuple((span, f"{name} is used here") for name, span in self.open[start + 1 :])
        self.reporter.report("use-cycle", use.span, path=" uses ".join(names), related=related)


def load_texts(files: Mapping[str, str], reporter: Reporter) -> Project:
    """From memory: the first file is opened, and `use` looks among the others."""
    loader = _Loader(TextShelf(files), reporter)
    first = next(iter(files))
    loader.load(first, _top(first))
    return loader.project


def load_path(path: Path, reporter: Reporter) -> Project:
    """From disk: a file, or a folder with all its `.rung` files in name order."""
    if path.is_dir():
        return _load_folder(path, reporter)
    if not path.exists():
        reporter.report("path-missing", _top(str(path)), path=path)
        return Project()
    if path.suffix != SUFFIX:
        reporter.report("path-not-rung", _top(str(path)), path=path)
        return Project()
    loader = _Loader(FolderShelf(path.parent), reporter)
    loader.load(path.name, _top(str(path)))
    return loader.project


def _load_folder(path: Path, reporter: Reporter) -> Project:
    shelf = FolderShelf(path)
    try:
        names = shelf.names()
    except OSError as error:
        reporter.report("folder-unreadable", _top(str(path)), path=path, reason=error.strerror or "no reason given")
        return Project()
    if not names:
        reporter.report("folder-without-rungs", _top(str(path)), path=path)
    loader = _Loader(shelf, reporter)
    for name in names:
        if shelf.outside(name):
            reporter.report("link-outside-folder", _top(shelf.label(name)), file=name)
        else:
            loader.load(name, _top(shelf.label(name)))
    return loader.project


def check_blocks(blocks: list[Block], reporter: Reporter) -> None:
    """One project has one controller and one plant, and every requirement and hazard its own name."""
    plants = [b for b in blocks if isinstance(b, Plant)]
    for second in plants[1:]:
        reporter.report("two-plants", second.span, related=((plants[0].span, "the first plant"),))
    for kind, word in ((Requirement, "requirement"), (Hazard, "hazard")):
        seen: dict[str, Span] = {}
        for block in blocks:
            if not isinstance(block, kind):
                continue
            known = seen.setdefault(block.name.lower(), block.span)
            if known is not block.span:
                related = ((known, "the first one"),)
                reporter.report("same-name-twice", block.span, word=word, name=block.name, related=related)


def _top(file: str) -> Span:
    return Span(file, 1, 1, 1)
