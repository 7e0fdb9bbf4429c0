"""A run as a table of comma-separated values: RFC 4180, one row an instant, one column a signal."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.waveforms.wave import Wave


def csv_text(wave: Wave, *, every_ms: int | None = None) -> str:
    """The file: a head row `time_s`, `header.level [cm]`, ..., then the instants.

    Truths are 0 and 1; numbers have all their digits, so that reading gives the same bits.
    With `every_ms` only the first instant at or after each multiple of it, and the last one.
    """
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow(["time_s", *(f"{s.name} [{s.unit}]" if s.unit else s.name for s in wave.signals)])
    columns = [signal.values for signal in wave.signals]
    for place in sampled(wave.times, every_ms):
        at = wave.times[place]
        writer.writerow([f"{at // 1000}.{at % 1000:03d}", *(_cell(column[place]) for column in columns)])
    return file.getvalue()


def sampled(times: Sequence[int], every_ms: int | None) -> Iterator[int]:
    """Places of the instants to write."""
    due = times[0] if len(times) else 0
    for place, at in enumerate(times):
        if every_ms is None or at >= due or place == len(times) - 1:
            yield place
            due = 0 if every_ms is None else (at // every_ms + 1) * every_ms


def _cell(value: Scalar) -> str:
    if isinstance(value, bool):
        return "1" if value else "0"
    return repr(value) if isinstance(value, int) else repr(float(value))
