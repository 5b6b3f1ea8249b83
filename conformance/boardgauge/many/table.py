"""One table of verdicts and measured timings, a row a recording.

Law of this module: the columns are those of ``COLUMNS``, then three for each timing of the board in the order of its
spec, whatever the recordings were; a value that there is none of is empty. The file appears when it is complete, and
until then whatever was there before stays.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Protocol

from attrs import define, field

from boardgauge.many.job import Job, Outcome

if TYPE_CHECKING:
    from boardgauge.judging.judgement import Judgement, TimingCoverage
    from boardgauge.machine.table import Machine

Value = str | int | float | None

COLUMNS: dict[str, tuple[type, str]] = {
    "file": (str, "the recording, as it was given or found; of one in parts all of them"),
    "sha256": (str, "of the file's bytes"),
    "board": (str, "the id of the board spec"),
    "spec_digest": (str, "of what the spec says, whatever its layout"),
    "wiring": (str, "the id of the wiring"),
    "boardgauge": (str, "the version that judged"),
    "start": (str, "what was known of the board before the recording: power-up or unknown"),
    "length_s": (float, "length of the recording"),
    "verdict": (str, "conforms, deviates or undecided; empty if it could not be judged"),
    "error": (str, "why it could not be judged"),
    "deviations": (int, "how many there are"),
    "first_time_s": (float, "first deviation: when it was beyond doubt"),
    "first_signal": (str, "first deviation: the channel it showed on"),
    "first_kind": (str, "first deviation: early, late, unasked, missing, lamp, requirement or start"),
    "first_rule": (str, "first deviation: the rule that was broken"),
    "first_clause": (str, "first deviation: the clause that says so"),
    "first_allowed_from_s": (float, "first deviation: begin of the allowed window"),
    "first_allowed_to_s": (float, "first deviation: end of the allowed window"),
    "first_margin_s": (float, "first deviation: how far it lies outside the window, at least"),
    "doubts": (int, "how many reasons for doubt there are"),
    "first_doubt": (str, "the first of them"),
    "exercised": (int, "how many rules and timed conditions the recording exercised"),
    "exercisable": (int, "how many there are"),
}
"""The columns that every table has, with the type and the meaning of each; times count from a recording's start."""

OF_A_TIMING: dict[str, tuple[type, str]] = {
    "count": (int, "how often it ended"),
    "least_s": (float, "the least it can have lasted, of all its ends that were measured"),
    "greatest_s": (float, "the greatest it can have lasted"),
}
"""The columns of each timing; their names begin with its own and a dot."""

ENDINGS = (".csv", ".parquet")
BATCH = 1000
"""Rows of a Parquet table that are written together."""


class UnusableTable(Exception):
    """A table that cannot be written; the message says why."""


class _Format(Protocol):
    def rows(self, rows: Sequence[Sequence[Value]]) -> None: ...

    def end(self) -> None: ...


@define
class Table:
    """A table that is being written: rows are added one by one; ``close`` puts it in its place."""

    path: Path
    job: Job
    _temporary: Path
    _format: _Format
    _types: dict[str, type]
    _version: str
    _rows: list[list[Value]] = field(factory=list)

    @classmethod
    def begin(cls, given: str, job: Job, machine: Machine) -> Table:
        """Begin a table beside the place where it will be. Raises UnusableTable."""
        from importlib.metadata import version

        path = Path(given)
        check_table(given)
        types = columns_of(machine)
        try:
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        except OSError as error:
            raise UnusableTable(f"{given}: cannot be written: {error.strerror or error}") from None
        stream = os.fdopen(handle, "wb")
        form: _Format = _Csv.begin(stream, types) if path.suffix.lower() == ".csv" else _Parquet.begin(stream, types)
        return cls(path, job, Path(name), form, types, version("boardgauge"))

    def add(self, outcome: Outcome) -> None:
        """Add the row of a recording."""
        row = row_of(outcome, self.job, self._version)
        self._rows.append([row.get(name) for name in self._types])
        if len(self._rows) >= BATCH:
            self._flush()

    def close(self) -> None:
        """Write what is left and put the table in its place. Raises UnusableTable."""
        try:
            self._flush()
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

    def _flush(self) -> None:
        self._format.rows(self._rows)
        self._rows.clear()


def check_table(given: str) -> None:
    """See whether a table can be written there. Raises UnusableTable."""
    path = Path(given)
    if path.is_dir():
        raise UnusableTable(f"{given}: is a folder; expected a file ending in {' or '.join(ENDINGS)}")
    if path.suffix.lower() not in ENDINGS:
        raise UnusableTable(f"{given}: expected a file ending in {' or '.join(ENDINGS)}")
    if not path.parent.is_dir():
        raise UnusableTable(f"{given}: there is no folder {path.parent}")


def columns_of(machine: Machine) -> dict[str, type]:
    """Give the columns of a board's table with their types, in their order."""
    types = {name: type_ for name, (type_, _) in COLUMNS.items()}
    for owner in (*machine.board.rules, *machine.board.conditions):
        for timing in machine.timings:
            if timing.owner == owner:
                types |= {f"{timing.name}.{name}": type_ for name, (type_, _) in OF_A_TIMING.items()}
    return types


def row_of(outcome: Outcome, job: Job, version: str) -> dict[str, Value]:
    """Give the row of a recording, without what there is none of."""
    row: dict[str, Value] = {
        "file": outcome.name,
        "sha256": outcome.sha256 or None,
        "board": job.board.id,
        "spec_digest": job.board.digest,
        "wiring": job.wiring.id,
        "boardgauge": version,
        "error": outcome.error,
    }
    judgement = outcome.judgement
    if judgement is None:
        return row
    row |= {
        "start": "power-up" if judgement.known_start else "unknown",
        "length_s": judgement.seconds(judgement.end),
        "verdict": judgement.verdict,
        "deviations": len(judgement.deviations),
        "doubts": len(judgement.doubts),
        "first_doubt": judgement.doubts[0].reason if judgement.doubts else None,
        "exercised": sum(rule.exercised for rule in judgement.rules),
        "exercisable": len(judgement.rules),
    }
    row |= _first(judgement)
    for rule in judgement.rules:
        for timing in rule.timings:
            row |= _measured(timing)
    return row


def _first(judgement: Judgement) -> dict[str, Value]:
    if not judgement.deviations:
        return {}
    first = judgement.deviations[0]
    outside = None
    if first.earliest is not None and first.latest is not None:
        outside = max(first.earliest - first.time, first.time - first.latest, 0) / 1_000_000
    return {
        "first_time_s": judgement.seconds(first.time),
        "first_signal": first.channel,
        "first_kind": first.kind,
        "first_rule": first.rule,
        "first_clause": first.clause,
        "first_allowed_from_s": judgement.seconds(first.earliest),
        "first_allowed_to_s": judgement.seconds(first.latest),
        "first_margin_s": outside,
    }


def _measured(timing: TimingCoverage) -> dict[str, Value]:
    least, greatest = (None if t is None else t / 1_000_000 for t in (timing.least, timing.greatest))
    return {
        f"{timing.name}.count": timing.ended,
        f"{timing.name}.least_s": least,
        f"{timing.name}.greatest_s": greatest,
    }


@define
class _Csv:
    _text: IO[str]
    _writer: Any

    @classmethod
    def begin(cls, stream: IO[bytes], types: dict[str, type]) -> _Csv:
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
    def begin(cls, stream: IO[bytes], types: dict[str, type]) -> _Parquet:
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
