"""What reaches the terminal besides plain text: bold where somebody looks, progress where somebody waits."""

from __future__ import annotations

import importlib
import io
import sys

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


def test_progress_is_quiet_in_a_pipe(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a byte, however long it takes, and rich is not even loaded."""
    error, now = io.StringIO(), [100.0]
    monkeypatch.setattr(sys, "stderr", error)
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} was loaded")

    monkeypatch.setattr(importlib, "import_module", refuse)
    with ProgressLine() as line:
        now[0] += 60
        line(4, 10, "short stories")
    assert error.getvalue() == ""
