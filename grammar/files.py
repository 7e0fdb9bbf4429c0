"""Reading a `.rung` file from disk: every way in which that fails is a diagnosis."""

from __future__ import annotations

import codecs
import difflib
from pathlib import Path

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.parser import parse_text
from rungproof.grammar.tree import SourceFile, Span

#: No rung file is that big; reading on would only fill the memory.
BIGGEST_FILE = 100_000_000


def read_file(path: Path, shown: str, reporter: Reporter) -> SourceFile | None:
    """The tree of a file, or None where the file cannot be read as text.

    `shown` is the name that spans and messages show. Nothing is raised.
    """
    text = read_file_text(path, shown, reporter)
    return None if text is None else parse_text(text, shown, reporter)


def read_file_text(path: Path, shown: str, reporter: Reporter) -> str | None:
    """The text of a file: UTF-8, with or without a byte-order mark."""
    place = Span(shown, 1, 1, 2)
    try:
        if path.is_dir():
            reporter.report("file-is-folder", place, name=shown)
            return None
        if path.exists() and not path.is_file():
            reporter.report("file-unreadable", place, name=shown, reason="it is no ordinary file")
            return None
        if path.stat().st_size > BIGGEST_FILE:
            reason = f"it is bigger than {BIGGEST_FILE // 1_000_000} MB"
            reporter.report("file-unreadable", place, name=shown, reason=reason)
            return None
        data = path.read_bytes()
    except FileNotFoundError:
        reporter.report("file-missing", place, name=shown, mend=_nearest_file(path))
        return None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        reporter.report("file-unreadable", place, name=shown, reason=reason[:1].lower() + reason[1:])
        return None
    return _decode(data, shown, reporter)


def _decode(data: bytes, shown: str, reporter: Reporter) -> str | None:
    place = Span(shown, 1, 1, 2)
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        reporter.report("file-encoding", place, what="The file is written in UTF-16")
        return None
    if b"\x00" in data:
        reporter.report("file-binary", place, name=shown)
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        line = before.count(b"\n") + 1
        column = len(before.rsplit(b"\n", 1)[-1].decode("utf-8-sig", "replace")) + 1
        what = f"The byte {data[error.start]:#04x} here is not UTF-8"
        reporter.report("file-encoding", Span(shown, line, column, column + 1), what=what)
        return None


def _nearest_file(path: Path) -> str | None:
    """The mend of a missing file: the name in the same folder that comes closest."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.suffix == ".rung"]
    except OSError:
        return None
    near = difflib.get_close_matches(path.name, names, n=1, cutoff=0.5)
    if near:
        return f"write `{near[0]}`"
    return f"the folder holds {', '.join(f'`{name}`' for name in sorted(names)[:5])}" if names else None
