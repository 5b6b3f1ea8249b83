"""Reading Parquet files, and Arrow data as a file or a stream.

Law of this module: a table of Arrow data is read as a CSV file with the same columns would be (``csv_columns``), piece
by piece, and only what changes is kept.

What is chosen here: a null is "not known"; a struct is a channel for each of its fields, ``inputs.y``; a timestamp
counts from 1970 in UTC, whatever zone it is shown in; a 32-bit float is refused as a time where it cannot tell
microseconds apart. Notes of our own stand in the metadata of the schema (``notes``).
"""

from __future__ import annotations

import json
import mmap
from collections.abc import Iterator
from io import UnsupportedOperation
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from attrs import define, field

from boardgauge.traces.arrow_columns import Unfit, columns_in, is_text, times_of, values_of
from boardgauge.traces.csv_columns import Columns
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.growing import Growing
from boardgauge.traces.notes import KEY, Misfit, misfit, notes_from, with_notes
from boardgauge.traces.recording import Format, Recording, Times, Values
from boardgauge.traces.rows import PIECE
from boardgauge.traces.samples import GrowingSamples
from boardgauge.traces.source import MOST_UNPACKED

if TYPE_CHECKING:
    from boardgauge.traces.reduction import Reduction
    from boardgauge.traces.shelf import Shelf

PARQUET, FILE = b"PAR1", b"ARROW1"
_BUFFER = 2**20
# pyarrow has no types that mypy knows.
Table = Any


@define
class _Taken:
    """What was read so far."""

    file: str
    columns: Columns
    most: int
    reduction: Reduction | None = None
    shelf: Shelf | None = None
    row: int = 0
    first: int | None = None
    last: int | None = None
    rounded: bool = False
    samples: GrowingSamples = field(factory=GrowingSamples)
    channels: dict[str, Growing] = field(factory=dict)
    stood: dict[str, tuple[int, float]] = field(factory=dict)
    """Of a long table, the last row of each channel."""

    def wrong(self, what: str, index: int | None, expected: str) -> UnreadableRecording:
        place = "" if index is None else f"row {self.row + index + 1}: "
        return UnreadableRecording(self.file, place + what, expected=expected)

    def channel(self, name: str) -> Growing:
        if name not in self.channels:
            ask = None if self.reduction is None else self.reduction.of((name,))
            self.channels[name] = Growing(ask=ask, shelf=self.shelf)
        return self.channels[name]

    def column(self, table: Table, index: int) -> Any:
        chunks = table.column(index).chunks
        return chunks[0] if len(chunks) == 1 else pa.concat_arrays(chunks)

    def take(self, table: Table) -> None:
        try:
            times, rounded = times_of(self.column(table, self.columns.time), self.columns.unit)
        except Unfit as error:
            name = shown(self.columns.names[self.columns.time])
            raise self.wrong(f"column {name}: {error.what}", error.row, error.expected) from None
        self.rounded = self.rounded or rounded
        self.check(times)
        if self.columns.long:
            self.changes(table, times)
        else:
            self.sampled(table, times)
        if 8 * len(self.samples) + sum(channel.nbytes for channel in self.channels.values()) > self.most:
            raise UnreadableRecording(
                self.file,
                f"it holds more than {self.most:,} bytes of samples and changes",
                expected="a smaller recording",
            )
        self.row += len(times)

    def check(self, times: Times) -> None:
        if not len(times):
            return
        before = np.concatenate(([times[0] - 1 if self.last is None else self.last], times[:-1]))
        steps = times - before
        bad = np.flatnonzero(steps < 0 if self.columns.long else steps <= 0)
        if len(bad):
            at = int(bad[0])
            now, then = int(times[at]) / 1e6, int(before[at]) / 1e6
            if now == then:
                raise self.wrong(f"time {now} s a second time", at, "one row a time")
            raise self.wrong(f"time {now} s after {then} s", at, "times that do not go back")
        self.first = int(times[0]) if self.first is None else self.first
        self.last = int(times[-1])

    def values(self, table: Table, index: int, name: str) -> Values:
        try:
            return values_of(self.column(table, index))
        except Unfit as error:
            what = f"{error.what} for {shown(name)}" if error.row is not None else error.what
            raise self.wrong(what, error.row, error.expected) from None

    def sampled(self, table: Table, times: Times) -> None:
        self.samples.add(times)
        for index, name in enumerate(self.columns.names):
            if index != self.columns.time:
                self.channel(name).add(times, self.values(table, index, name))

    def changes(self, table: Table, times: Times) -> None:
        assert self.columns.signal is not None
        assert self.columns.value is not None
        signals = self.column(table, self.columns.signal)
        if not is_text(signals.type):
            what = f"column {shown(self.columns.names[self.columns.signal])} holds {signals.type}"
            raise self.wrong(what, None, "the names of signals")
        encoded = signals if pa.types.is_dictionary(signals.type) else signals.dictionary_encode()
        names = encoded.dictionary.to_pylist()
        numbers = encoded.indices.fill_null(len(names)).to_numpy(zero_copy_only=False).astype(np.int64)
        names.append(None)
        values = self.values(table, self.columns.value, "the signal")
        order = np.argsort(numbers, kind="stable")
        bounds = np.searchsorted(numbers[order], np.arange(len(names) + 1))
        # In the order in which they come, as a table of text gives them.
        present = [(int(order[bounds[n]]), n) for n in range(len(names)) if bounds[n] < bounds[n + 1]]
        for at, number in sorted(present):
            name = names[number]
            if not name:
                raise self.wrong("no signal", at, "a name")
            rows = order[bounds[number] : bounds[number + 1]]
            self.contradiction(name, times[rows], values[rows], rows)
            self.channel(name).add(times[rows], values[rows])

    def contradiction(self, name: str, times: Times, values: Values, rows: Times) -> None:
        time, value = self.stood.get(name, (int(times[0]) - 1, 0.0))
        earlier = np.concatenate(([time], times[:-1]))
        old = np.concatenate(([value], values[:-1]))
        differs = (old != values) & ~(np.isnan(old) & np.isnan(values))
        bad = np.flatnonzero((times == earlier) & differs)
        if len(bad):
            what = f"a second value for {shown(name)} at {int(times[bad[0]]) / 1e6} s"
            raise self.wrong(what, int(rows[bad[0]]), "one value a signal and time")
        self.stood[name] = (int(times[-1]), float(values[-1]))


def read_arrow(
    stream: BinaryIO,
    file: str,
    most: int = MOST_UNPACKED,
    reduction: Reduction | None = None,
    shelf: Shelf | None = None,
) -> Recording:
    """Read a Parquet file, or Arrow data. Raises UnreadableRecording with the row of the first thing that is wrong.

    With a ``reduction``, values that nobody will ask for are left out; with a ``shelf``, changes are put away there.
    ``most`` is the most bytes that its changes and samples may take: a small file can hold any number of rows.
    """
    kind = "Parquet" if stream.read(4) == PARQUET else "Arrow"
    stream.seek(0)
    try:
        schema, tables = _opened(stream)
        # A note of ours may give the channels other names than the reduction would know here.
        plain = KEY.encode() not in (schema.metadata or {})
        return _read(kind, schema, tables, file, most, reduction if plain else None, shelf)
    except (pa.ArrowException, OSError, MemoryError, ValueError, KeyError) as error:
        what = " ".join(str(error).split())[:200]
        raise UnreadableRecording(
            file, f"the {kind} data is damaged or cut off ({what})", expected="the whole file"
        ) from None


def _opened(stream: BinaryIO) -> tuple[Any, Iterator[Table]]:
    head = stream.read(6)
    stream.seek(0)
    if head.startswith(PARQUET):
        # Pages are read one after the other: a row group may be as large as the file.
        parquet = pq.ParquetFile(stream, buffer_size=_BUFFER, pre_buffer=False)
        return parquet.schema_arrow, (pa.Table.from_batches([b]) for b in parquet.iter_batches(PIECE))
    source: Any
    try:
        source = pa.py_buffer(mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ))
    except (UnsupportedOperation, AttributeError):
        source = pa.py_buffer(stream.read())
    if head == FILE:
        reader = pa.ipc.open_file(source)
        return reader.schema, _pieces(reader.get_batch(index) for index in range(reader.num_record_batches))
    reader = pa.ipc.open_stream(source)
    return reader.schema, _pieces(reader)


def _pieces(batches: Any) -> Iterator[Table]:
    for batch in batches:
        batch.validate(full=True)
        for at in range(0, batch.num_rows, PIECE):
            yield pa.Table.from_batches([batch.slice(at, PIECE)])


def _flat(table: Table) -> Table:
    while any(pa.types.is_struct(kind) for kind in table.schema.types):
        table = table.flatten()
    return table


def _read(
    kind: str,
    schema: Any,
    tables: Iterator[Table],
    file: str,
    most: int,
    reduction: Reduction | None,
    shelf: Shelf | None,
) -> Recording:
    columns = columns_in(_flat(schema.empty_table()).schema, file)
    taken = _Taken(file, columns, most, reduction, shelf)
    for table in tables:
        taken.take(_flat(table))
    if taken.first is None or taken.last is None:
        raise UnreadableRecording(file, "there are no rows", expected="rows of values")
    channels = {name: channel.channel(name) for name, channel in taken.channels.items()}
    shape = f"{'long' if columns.long else 'wide'} {kind}"
    form: Format = next(each for each in _FORMATS if each == shape)
    samples = None if columns.long else taken.samples.samples()
    recording = Recording(file, form, taken.first, taken.last, channels, samples, taken.rounded)
    said = (schema.metadata or {}).get(KEY.encode())
    if said is None:
        return recording
    try:
        objects = json.loads(said)
        return with_notes(notes_from(objects if isinstance(objects, list) else [said]), recording)
    except (Misfit, ValueError, RecursionError) as error:
        told = error if isinstance(error, Misfit) else Misfit("it is not JSON")
        raise misfit(file, told) from None


_FORMATS: tuple[Format, ...] = ("wide Parquet", "long Parquet", "wide Arrow", "long Arrow")
