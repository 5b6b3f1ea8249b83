"""Writing a recording as Parquet, or as Arrow data (file or stream).

Law of this module: what is written reads back as the same channels, times, samples, start and end. Times are whole
microseconds; logic levels are true and false, "not known" is null.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from boardgauge.traces.csv_columns import time_unit
from boardgauge.traces.notes import KEY
from boardgauge.traces.recording import Recording, Values
from boardgauge.traces.rows import PIECE, long_rows, rows_at_once, wide_rows

# pyarrow has no types that mypy knows.
Batch = Any
_GROUP = 4 * PIECE
"""Rows of one row group: so many that a reader is not held up, and few enough for any memory."""
_CELLS = 1 << 21
"""Cells of one row group at most."""


def fits_in_arrow(name: str) -> bool:
    """Tell whether a column may be called so and be read as a channel."""
    return (
        bool(name)
        and name.isprintable()
        and time_unit(name) is None
        and name.lower() not in ("signal", "channel", "name", "value", "level", "state")
    )


def write_arrow(recording: Recording, stream: BinaryIO, kind: str, long: bool, notes: list[str]) -> None:
    """Write a recording; ``kind`` is "Parquet", "Arrow" (a file) or "Arrow stream".

    Of a recording of changes a wide table has a row for each time at which something changes. ``notes`` goes into the
    metadata of the schema.
    """
    schema = _schema(recording, long)
    if notes:
        schema = schema.with_metadata({KEY: json.dumps([json.loads(note) for note in notes])})
    batches = _long(recording, schema) if long else _wide(recording, schema)
    batches = _gathered(batches, rows_at_once(len(schema.types), _GROUP, _CELLS))
    if kind == "Parquet":
        with pq.ParquetWriter(stream, schema, compression="zstd") as writer:
            for batch in batches:
                writer.write_batch(batch, row_group_size=_GROUP)
        return
    opened = pa.ipc.new_file if kind == "Arrow" else pa.ipc.new_stream
    with opened(stream, schema) as writer:
        for batch in batches:
            writer.write_batch(batch)


def _gathered(batches: Iterator[Batch], most: int) -> Iterator[Batch]:
    """Give batches of many rows made of small ones: each is a group of its own in a file, with a head of its own."""
    held: list[Batch] = []
    rows = 0
    for batch in batches:
        if held and rows + batch.num_rows > most:
            yield pa.concat_batches(held)
            held, rows = [], 0
        held.append(batch)
        rows += batch.num_rows
    if held:
        yield pa.concat_batches(held)


def _schema(recording: Recording, long: bool) -> Any:
    time = pa.field("t_us", pa.int64(), nullable=False, metadata={"unit": "us"})
    if long:
        digital = all(channel.digital for channel in recording.channels.values())
        names = pa.dictionary(pa.int32(), pa.string())
        value = pa.bool_() if digital else pa.float64()
        return pa.schema([time, pa.field("signal", names, nullable=False), pa.field("value", value)])
    kinds = [pa.bool_() if channel.digital else pa.float64() for channel in recording.channels.values()]
    return pa.schema([time, *(pa.field(name, kind) for name, kind in zip(recording.channels, kinds, strict=True))])


def _array(values: Values, kind: Any) -> Any:
    unknown = np.isnan(values)
    if pa.types.is_boolean(kind):
        return pa.array(values == 1.0, type=kind, mask=unknown)
    return pa.array(values, type=kind, mask=unknown)


def _wide(recording: Recording, schema: Any) -> Iterator[Batch]:
    for times, columns in wide_rows(recording, rows_at_once(len(schema.types), _GROUP, _CELLS)):
        arrays = [_array(values, kind) for values, kind in zip(columns, schema.types[1:], strict=True)]
        yield pa.record_batch([pa.array(times), *arrays], schema=schema)


def _long(recording: Recording, schema: Any) -> Iterator[Batch]:
    names = pa.array(list(recording.channels), type=pa.string())
    for times, numbers, values in long_rows(recording, _GROUP):
        signals = pa.DictionaryArray.from_arrays(pa.array(numbers), names)
        yield pa.record_batch([pa.array(times), signals, _array(values, schema.types[2])], schema=schema)
