"""Whatever a file holds: a tree or a diagnosis, never an exception, and in time."""

from __future__ import annotations

import errno
import os
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from rung_strategies import files
from rungproof.grammar import CATALOGUE, Reporter, format_text, parse_text, read_file, render, to_text

SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck))


def _codes(text: str) -> list[str]:
    reporter = Reporter(dict(CATALOGUE))
    parse_text(text, "x.rung", reporter)
    lines = text.split("\n")
    for diagnosis in reporter.found:
        shown = render(diagnosis, {"x.rung": lines})
        assert max(map(len, shown.split("\n"))) < 400
    return [diagnosis.code for diagnosis in reporter.sorted()]


@SLOW
@given(st.text())
@example("\x00")
@example("rung")
@example('rung r "')
@example("    ")
@example("(")
def test_any_text_gets_an_answer(text: str) -> None:
    """Nothing is raised for any text; a text without a block is diagnosed."""
    assert _codes(text)


@SLOW
@given(files, st.data())
def test_a_spoiled_file_gets_an_answer(source: object, data: st.DataObject) -> None:
    """Characters taken out of or put into a file that was right: a tree, or diagnoses; the formatter likewise."""
    text = to_text(source)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 3))
        text = (
            text[:at]
            + data.draw(st.sampled_from(("", " ", "\n", '"', "(", ")", "=", "not ", "5", ".", "\t")))
            + text[at + gone :]
        )
    _codes(text)
    reporter = Reporter(dict(CATALOGUE))
    formatted = format_text(text, "x.rung", reporter)
    assert (formatted is None) == reporter.has_errors


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("(" * 10_000 + "a" + ")" * 10_000, "line-too-long"),
        ("(" * 5_000 + "a" + ")" * 5_000, "nested-too-deep"),
        ("not " * 4_000 + "a", "nested-too-deep"),
        ("x < " + "-" * 9_000 + "3", "nested-too-deep"),
        ("x < " + " + ".join("a" * 4_000), "nested-too-deep"),
        ("x < " + "9" * 10_000, "number-too-long"),
        ("a" * 5_000_000, "line-too-long"),
        ("x < 5" + "a/" * 9_000 + "(", "unclosed-parenthesis"),
        ('"#' * 5_000 + "a", "unexpected"),
    ],
    ids=lambda value: value[:12],
)
def test_what_no_one_writes_is_refused_in_time(line: str, code: str) -> None:
    """Deep nesting, endless lines and numbers: one diagnosis, well within a second, no recursion."""
    began = time.process_time()
    assert _codes(f"rung r\n    {line}\n    => out\n") == [code]
    assert time.process_time() - began < 5


def test_the_deepest_tree_that_is_let_through_can_be_walked() -> None:
    """What passes the depth limit can be compared, hashed and printed without a RecursionError."""
    line = "x < " + " + ".join("a" * 95)
    reporter = Reporter(dict(CATALOGUE))
    text = f"rung r\n    {line}\n    => out\n"
    source = parse_text(text, "x.rung", reporter)
    assert not reporter.has_errors
    limit = sys.getrecursionlimit()
    try:
        sys.setrecursionlimit(700)
        assert hash(source.blocks) and repr(source) and to_text(source)
        assert source == parse_text(text, "x.rung", reporter)
    finally:
        sys.setrecursionlimit(limit)


def test_a_wide_line_is_no_deep_line() -> None:
    """A thousand branches in parallel are read."""
    assert _codes("rung r\n    " + " or ".join(f"a{n}" for n in range(1_000)) + "\n    => out\n") == []


def test_reading_takes_time_in_proportion_to_the_rungs() -> None:
    """Eight times the rungs take about eight times as long. (Twenty is the limit: machines are busy.)"""

    def seconds(count: int) -> float:
        text = "".join(f"rung r{n}\n    a{n} or b{n}\n    not c{n}\n    => d{n}\n" for n in range(count))
        began = time.process_time()
        assert _codes(text) == []
        return time.process_time() - began

    seconds(10)
    assert seconds(4_000) < 20 * seconds(500)


def test_a_file_of_nothing_but_mistakes_ends_in_time() -> None:
    """After three hundred mistakes the parser stops reading, and says so."""
    codes = _codes("rung r\n" + "    a b c\n" * 100_000)
    assert len(codes) == 301
    assert "too-many-mistakes" in codes


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_all_systems_are_accepted(end: str) -> None:
    """Line feed, carriage return and both give one tree."""
    text = 'rung r "why"\n    a    # c\n\n    => b\n'
    reporter = Reporter(dict(CATALOGUE))
    assert parse_text(text.replace("\n", end), "x", reporter) == parse_text(text, "x", reporter)
    assert reporter.sorted() == ()


def test_a_byte_order_mark_is_accepted(tmp_path: Path) -> None:
    """Editors put one before UTF-8; it says nothing."""
    reporter = Reporter(dict(CATALOGUE))
    (tmp_path / "x.rung").write_bytes(b"\xef\xbb\xbfrung r\n    a\n    => b\n")
    source = read_file(tmp_path / "x.rung", "x.rung", reporter)
    assert source is not None and len(source.blocks) == 1
    assert reporter.sorted() == ()


def test_a_byte_that_is_no_utf_8_is_shown_at_its_place(tmp_path: Path) -> None:
    """Line and column of the first such byte, counted in characters."""
    reporter = Reporter(dict(CATALOGUE))
    (tmp_path / "x.rung").write_bytes('rung r "ä"\r\n    ö'.encode() + b"\xe4\n")
    assert read_file(tmp_path / "x.rung", "x.rung", reporter) is None
    (diagnosis,) = reporter.sorted()
    assert (diagnosis.code, diagnosis.span.line, diagnosis.span.column) == ("file-encoding", 2, 6)


def test_tabs_read_like_blanks_and_are_mentioned_once(tmp_path: Path) -> None:
    """A warning at the first; the tree is that of blanks, and the formatter mends it."""
    reporter = Reporter(dict(CATALOGUE))
    source = parse_text("rung r\n\ta\n\tb\n\t=> c\n", "x", reporter)
    assert [(d.code, d.grade, d.span.line) for d in reporter.sorted()] == [("tab-indentation", "warning", 2)]
    assert source == parse_text("rung r\n    a\n    b\n    => c\n", "x", reporter)
    assert _codes("rung r\n\ta\n    => b\n") == ["tab-indentation"], "a tab is as deep as four blanks"
    assert format_text("rung r\n\ta\n\t=> c\n", "x", reporter) == "rung r\n    a\n    => c\n"


def test_a_missing_file_is_answered_with_its_neighbour(tmp_path: Path) -> None:
    """The nearest name of the folder is the mend."""
    (tmp_path / "plant.rung").write_text("", encoding="utf-8")
    reporter = Reporter(dict(CATALOGUE))
    assert read_file(tmp_path / "plnat.rung", "plnat.rung", reporter) is None
    (diagnosis,) = reporter.sorted()
    assert (diagnosis.code, diagnosis.mend) == ("file-missing", "write `plant.rung`")


def test_a_file_that_may_not_be_read_is_answered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without permission there is a reason and no traceback. (Patched in: root may read everything.)"""

    def refuse(path: Path) -> bytes:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    path = tmp_path / "x.rung"
    path.write_text("rung r\n", encoding="utf-8")
    monkeypatch.setattr(Path, "read_bytes", refuse)
    reporter = Reporter(dict(CATALOGUE))
    assert read_file(path, "x.rung", reporter) is None
    (diagnosis,) = reporter.sorted()
    assert diagnosis.message == "The file `x.rung` cannot be read: permission denied."


@pytest.mark.parametrize("first", ["rung r", "tags", 'plant "p" every 5 ms'])
def test_a_lost_header_line_does_not_blame_its_block(first: str) -> None:
    """A header that cannot be read is one mistake; the lines below it are still read."""
    assert _codes(f"{first} \u200b\n    x @ y\n") == ["hidden-character", "odd-character"]
