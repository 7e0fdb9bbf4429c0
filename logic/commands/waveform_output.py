"""Where `--vcd`, `--csv` and `--parquet` send a run."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass, field

from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.output import Pending
from rungproof.logic.commands.screen import Screen
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.waveforms.csv_trace import csv_text
from rungproof.logic.waveforms.parquet import MissingLibraryError, parquet_bytes
from rungproof.logic.waveforms.vcd import vcd_text
from rungproof.logic.waveforms.wave import Wave, wave_of

FORMATS = ("vcd", "csv", "parquet")


@dataclass(slots=True)
class WaveformOutput:
    """The files asked for, by format."""

    files: dict[str, Pending] = field(default_factory=dict)

    @classmethod
    def of(cls, arguments: Namespace) -> WaveformOutput:
        """Raises `CommandError` at once where a file cannot be written."""
        output = cls()
        try:
            for name in FORMATS:
                if getattr(arguments, name) is not None:
                    output.files[name] = Pending.at(getattr(arguments, name))
        except CommandError:
            output.drop()
            raise
        return output

    def write(self, arguments: Namespace, screen: Screen, program: Program, story: Story, title: str) -> None:
        """Run the story once more and write it down. Raises `CommandError` where a library is missing."""
        if not self.files:
            return
        only = frozenset(name.strip() for name in (arguments.only or "").split(",") if name.strip())
        wave = wave_of(program, story, title, only=only)
        for name, pending in self.files.items():
            pending.write(_content(name, wave, arguments.every_ms))
            screen.labelled("written", f"{pending.target}: {len(wave.signals)} signals", indent=0)

    def drop(self) -> None:
        for pending in self.files.values():
            pending.drop()

    def __enter__(self) -> WaveformOutput:
        return self

    def __exit__(self, *_: object) -> None:
        self.drop()


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
