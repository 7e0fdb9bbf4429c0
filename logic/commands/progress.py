"""Progress on standard error: only on a terminal, and only of what takes longer than a second."""

from __future__ import annotations

import importlib
import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rungproof.logic.commands.progress_bar import ProgressBar

#: Seconds before anything is shown.
PATIENCE_S = 1.0


class ProgressLine:
    """Call it with what is done, what there is, and words."""

    def __init__(self) -> None:
        self._began = time.monotonic()
        self._shows = sys.stderr.isatty()
        self._bar: ProgressBar | None = None

    def __call__(self, done: int, total: int, words: str) -> None:
        if not self._shows or time.monotonic() - self._began < PATIENCE_S:
            return
        if self._bar is None:
            self._bar = importlib.import_module("rungproof.logic.commands.progress_bar").ProgressBar()
        if self._bar is not None:
            self._bar.show(done, total, words)

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.close()
