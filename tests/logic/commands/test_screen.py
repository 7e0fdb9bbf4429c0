"""What reaches the terminal besides plain text: bold where somebody looks, progress where somebody waits."""

from __future__ import annotations

import importlib
import io
import os
import sys
import time

import pytest
from rungproof.logic.commands import progress
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import USUAL, Screen


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "environment", "bold"),
    [
        (Terminal(), {}, True),
        (Terminal(), {"NO_COLOR": "1"}, False),
        (Terminal(), {"TERM": "dumb"}, False),
        (io.StringIO(), {}, False),
    ],
    ids=["terminal", "NO_COLOR", "dumb terminal", "pipe"],
)
def test_bold_only_where_it_can_be_seen_and_is_welcome(
    monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, environment: dict[str, str], bold: bool
) -> None:
    """A pipe, a dumb terminal and NO_COLOR get plain text."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "stdout", stream)
    assert ("\x1b" in Screen.standard().strong("R1")) == bold


def test_a_pipe_gets_80_columns_whatever_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that two people make of the same check are the same."""
    monkeypatch.setenv("COLUMNS", "300")
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert Screen.standard().width == USUAL


def test_a_quiet_screen_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """JSON has standard output to itself."""
    screen = Screen.standard(quiet=True)
    screen.line("a")
    screen.labelled("b", "c")
    assert capsys.readouterr().out == ""


def test_progress_waits_a_second_and_then_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing for short work; then runs done and runs planned, on standard error, gone at the end."""
    error, now = Terminal(), [100.0]
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", error)
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    with ProgressLine() as line:
        line(1, 10, "short stories")
        assert error.getvalue() == ""
        now[0] += 1.5
        line(4, 10, "short stories")
        line(5, 10, "short stories")
    assert "of 10 runs" in error.getvalue()
    assert error.getvalue().rstrip().endswith("\x1b[2K")


def test_in_a_pipe_nothing_for_the_first_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short work writes not a byte, and rich is not even loaded."""
    error = io.StringIO()
    monkeypatch.setattr(sys, "stderr", error)

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} was loaded")

    monkeypatch.setattr(importlib, "import_module", refuse)
    with ProgressLine() as line:
        line(4, 10, "short stories")
    assert error.getvalue() == ""


def test_in_a_pipe_long_work_tells_that_it_lives(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """A plain line now and then, even of work that tells nothing of itself, with what is known; none after its end."""
    monkeypatch.setattr(progress, "SILENCE_S", 0.01)
    with ProgressLine("comparing the two versions") as line:
        seen = _read_until(capfd, "rungproof: 0 s: comparing the two versions\n")
        line(4, 10, "short stories")
        seen += _read_until(capfd, "short stories, 4 of 10\n")
    line._watch.join()
    capfd.readouterr()
    assert "\x1b" not in seen
    assert not line._watch.is_alive()
    assert capfd.readouterr().err == ""


def _read_until(capfd: pytest.CaptureFixture[str], wanted: str) -> str:
    """What was written to standard error until `wanted` stood in it; a minute is for a machine that is busy."""
    seen, until = "", time.monotonic() + 60
    while wanted not in seen:
        assert time.monotonic() < until, f"{wanted!r} never came; there was {seen!r}"
        time.sleep(0.005)
        seen += capfd.readouterr().err
    return seen


def test_standard_error_that_is_closed_stops_no_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever started it may have gone."""
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "w") as gone:
        monkeypatch.setattr(sys, "stderr", gone)
        monkeypatch.setattr(progress, "SILENCE_S", 0.001)
        with ProgressLine() as line:
            time.sleep(0.05)
            assert line._watch.is_alive()
