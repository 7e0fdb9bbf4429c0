"""The progress bar itself. Loaded only by those who wait: rich takes longer to load than many checks take."""

from __future__ import annotations

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn


class ProgressBar:
    """A line on standard error that vanishes when the work ends. NO_COLOR is honoured by rich."""

    def __init__(self) -> None:
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=24, style="default", complete_style="bold", finished_style="bold"),
            TextColumn("{task.completed:.0f} of {task.total:.0f} runs"),
            console=Console(stderr=True),
            transient=True,
        )
        self._task = self._bar.add_task("", total=1)
        self._bar.start()

    def show(self, done: int, total: int, words: str) -> None:
        self._bar.update(self._task, completed=done, total=max(total, 1), description=words)

    def close(self) -> None:
        self._bar.stop()
