"""A run as a Parquet file, for tools that work on tables of columns. Needs pyarrow, which is an extra."""

from __future__ import annotations

import io

from rungproof.logic.waveforms.csv_trace import sampled
from rungproof.logic.waveforms.wave import CAUTION, Wave


class MissingLibraryError(RuntimeError):
    """Raised where a library that is an extra is not installed; `extra` is the extra's name."""

    def __init__(self, library: str, extra: str) -> None:
        super().__init__(f"{library} is not installed")
        self.library, self.extra = library, extra


def parquet_bytes(wave: Wave, *, every_ms: int | None = None) -> bytes:
    """The file: column `time_ms` (int64), then a column a signal (bool, int64, double).

    A column's unit stands in its field's metadata under `unit`, the run's title and the
    caution in the schema's. Raises `MissingLibraryError` where pyarrow is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        raise MissingLibraryError("pyarrow", "parquet") from error
    kinds = {"bool": pa.bool_(), "int": pa.int64(), "real": pa.float64()}
    places = list(sampled(wave.times, every_ms))
    fields = [pa.field("time_ms", pa.int64(), nullable=False)]
    columns = [pa.array([wave.times[place] for place in places], pa.int64())]
    for signal in wave.signals:
        unit = {"unit": signal.unit} if signal.unit else None
        fields.append(pa.field(signal.name, kinds[signal.type], nullable=False, metadata=unit))
        columns.append(pa.array([signal.values[place] for place in places], kinds[signal.type]))
    schema = pa.schema(fields, metadata={"title": wave.title, "note": CAUTION})
    file = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(columns, schema=schema), file)
    return file.getvalue()
