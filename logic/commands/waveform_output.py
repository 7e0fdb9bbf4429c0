"""Where `--vcd`, `--csv` and `--parquet` send a run."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.output import PendingFiles, named
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.waveforms.csv_trace import csv_text
from rungproof.logic.waveforms.parquet import MissingLibraryError, parquet_bytes
from rungproof.logic.waveforms.vcd import vcd_text
from rungproof.logic.waveforms.wave import Wave, wave_of


class WaveformOutput(PendingFiles):
    """The files asked for, by format."""

    OPTIONS = ("vcd", "csv", "parquet")

    def write(self, arguments: Namespace, screen: Screen, program: Program, story: Story, title: str) -> None:
        """Run the story once more and write it down. Raises `CommandError` where a library is missing."""
        if not self.files:
            return
        wave = wave_of(program, story, title, only=named(arguments.only))
        for name in self.files:
            self.write_one(screen, name, _content(name, wave, arguments.every_ms), f"{len(wave.signals)} signals")


def _content(name: str, wave: Wave, every_ms: int | None) -> str | bytes:
    if name == "vcd":
        return vcd_text(wave)
    if name == "csv":
        return csv_text(wave, every_ms=every_ms)
    try:
        return parquet_bytes(wave, every_ms=every_ms)
    except MissingLibraryError as error:
        mend = f'Install it with `pip install "rungproof[{error.extra}]"`, or take --csv.'
        raise CommandError(f"A Parquet file wants {error.library}, which is not installed.", mend) from error
