"""Progress on standard error: a bar where somebody looks, now and then a line where nobody can."""

from __future__ import annotations

import importlib
import os
import sys
import threading
import time
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rungproof.logic.commands.progress_bar import ProgressBar

#: Seconds before a bar is shown.
PATIENCE_S = 1.0

#: Seconds from one line to the next where standard error is no terminal: a sign of life, no more.
SILENCE_S = 10.0


class ProgressLine:
    """Call it with what is done, what there is, and words; `words` are told until then.

    On a terminal it shows a bar; elsewhere a line every `SILENCE_S`, whether or not it was called meanwhile, so that
    work that tells nothing of itself does not look dead either.
    """

    def __init__(self, words: str = "reading") -> None:
        self._began = time.monotonic()
        self._terminal = sys.stderr.isatty()
        self._bar: ProgressBar | None = None
        self._told = (0, 0, words)
        self._ended = threading.Event()
        # A timer of its own costs nothing, and a line comes even while a solver of another process is waited for.
        self._watch = threading.Thread(target=self._tell_now_and_then, name="progress", daemon=True)

    def __call__(self, done: int, total: int, words: str) -> None:
        self._told = done, total, words
        if not self._terminal or time.monotonic() - self._began < PATIENCE_S:
            return
        if self._bar is None:
            self._bar = importlib.import_module("rungproof.logic.commands.progress_bar").ProgressBar()
        if self._bar is not None:
            self._bar.show(done, total, words)

    def line(self) -> str:
        """How things stand, such as `40 s: short stories, 12 of 200`."""
        done, total, words = self._told
        far = f", {done} of {total}" if total else ""
        return f"{time.monotonic() - self._began:.0f} s: {words}{far}"

    def _tell_now_and_then(self) -> None:
        while not self._ended.wait(SILENCE_S):
            _write(f"rungproof: {self.line()}\n")

    def __enter__(self) -> ProgressLine:
        if not self._terminal:
            self._watch.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        if self._bar is not None:
            self._bar.close()


def _write(text: str) -> None:
    """To standard error, past its buffer: a worker forked meanwhile must not inherit the buffer's lock, held."""
    try:
        os.write(sys.stderr.fileno(), text.encode(errors="backslashreplace"))
    except (OSError, ValueError):
        # Nobody reads it, or it is no file: a sign of life is not worth ending the work.
        return
