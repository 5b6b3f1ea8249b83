"""A table as a file, CSV or Parquet, that appears when it is complete.

Law of this module: columns and their types are told first, rows follow; until the table is closed, whatever was there
before stays. What a cell means is the caller's.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, Any, Protocol

from attrs import define

Value = str | int | float | None

ENDINGS = (".csv", ".parquet")


class UnusableTable(Exception):
    """A table that cannot be written; the message says why."""


class _Format(Protocol):
    def rows(self, rows: Sequence[Sequence[Value]]) -> None: ...

    def end(self) -> None: ...


@define
class TableFile:
    """A table that is being written beside the place where it will be; ``close`` puts it there."""

    path: Path
    _temporary: Path
    _format: _Format

    @classmethod
    def begin(cls, given: str, types: Mapping[str, type]) -> TableFile:
        """Begin a table with these columns. Raises UnusableTable."""
        path = Path(given)
        check_table(given)
        try:
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        except OSError as error:
            raise UnusableTable(f"{given}: cannot be written: {error.strerror or error}") from None
        stream = os.fdopen(handle, "wb")
        form: _Format = _Csv.begin(stream, types) if path.suffix.lower() == ".csv" else _Parquet.begin(stream, types)
        return cls(path, Path(name), form)

    def rows(self, rows: Sequence[Sequence[Value]]) -> None:
        """Write rows, each with a value for every column."""
        self._format.rows(rows)

    def close(self) -> None:
        """Put the table in its place. Raises UnusableTable."""
        try:
            self._format.end()
            # A temporary file is for its owner only; a table is like any other new file.
            self._temporary.chmod(0o666 & ~_umask())
            os.replace(self._temporary, self.path)
        except OSError as error:
            self.abandon()
            raise UnusableTable(f"{self.path}: cannot be written: {error.strerror or error}") from None

    def abandon(self) -> None:
        """Leave everything as it was before."""
        with suppress(OSError):
            self._temporary.unlink()


def check_table(given: str) -> None:
    """See whether a table can be written there. Raises UnusableTable."""
    path = Path(given)
    if path.is_dir():
        raise UnusableTable(f"{given}: is a folder; expected a file ending in {' or '.join(ENDINGS)}")
    if path.suffix.lower() not in ENDINGS:
        raise UnusableTable(f"{given}: expected a file ending in {' or '.join(ENDINGS)}")
    if not path.parent.is_dir():
        raise UnusableTable(f"{given}: there is no folder {path.parent}")


@define
class _Csv:
    _text: IO[str]
    _writer: Any

    @classmethod
    def begin(cls, stream: IO[bytes], types: Mapping[str, type]) -> _Csv:
        from io import TextIOWrapper

        text = TextIOWrapper(stream, encoding="utf-8", newline="")
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(types)
        return cls(text, writer)

    def rows(self, rows: Sequence[Sequence[Value]]) -> None:
        for row in rows:
            self._writer.writerow([f"{value:.6f}" if isinstance(value, float) else value for value in row])

    def end(self) -> None:
        self._text.flush()
        os.fsync(self._text.fileno())
        self._text.close()


@define
class _Parquet:
    _stream: IO[bytes]
    _schema: Any
    _writer: Any

    @classmethod
    def begin(cls, stream: IO[bytes], types: Mapping[str, type]) -> _Parquet:
        import pyarrow as pa
        import pyarrow.parquet as pq

        kinds = {str: pa.string(), int: pa.int64(), float: pa.float64()}
        schema = pa.schema([(name, kinds[type_]) for name, type_ in types.items()])
        return cls(stream, schema, pq.ParquetWriter(stream, schema))

    def rows(self, rows: Sequence[Sequence[Value]]) -> None:
        import pyarrow as pa

        if rows:
            columns = [
                pa.array(column, kind.type) for column, kind in zip(zip(*rows, strict=True), self._schema, strict=True)
            ]
            self._writer.write_table(pa.Table.from_arrays(columns, schema=self._schema))

    def end(self) -> None:
        self._writer.close()
        self._stream.flush()
        os.fsync(self._stream.fileno())
        self._stream.close()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
