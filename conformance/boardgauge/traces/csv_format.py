"""Reading tables (CSV), wide and long.

Law of this module: the quick way and the slow way give the same values; the quick way takes what is plain and leaves
the rest, and every complaint, to the slow way.

What is chosen here: lines that begin with ``#`` and empty lines are left out; an empty cell is "not known", never "as
before"; the times of a wide table rise strictly and those of a long table do not fall; a time may be negative (before
a trigger). What the header means is said in ``csv_columns``.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from attrs import define, field

from boardgauge.traces.csv_columns import Columns, columns_of
from boardgauge.traces.decimals import (
    VALUE_WORDS,
    clock_micros,
    decimals_to_micros,
    floats_of,
    micros_of,
    plain_decimals,
    plain_micros,
    scaled_micros,
    value_of,
)
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.recording import MOST_TIME, Channel, Recording, Times, Values, channel_of, without_repeats
from boardgauge.traces.source import Block


@define
class _Parts:
    """What was read so far: pieces of the time column, and of each signal those rows in which it changed."""

    columns: Columns
    file: str
    times: list[Times] = field(factory=list)
    pieces: dict[str, list[tuple[Times, Values]]] = field(factory=dict)
    last: int | None = None
    last_text: bytes = b""
    rounded: bool = False
    digits: int | None = field(init=False)

    @digits.default
    def _digits(self) -> int | None:
        return decimals_to_micros(self.columns.unit)

    @property
    def comma(self) -> bool:
        return self.columns.delimiter != ","


def _micros(parts: _Parts, cell: bytes, line: int, column: int) -> int:
    quick = plain_micros(cell, parts.digits)
    exact: Fraction | int | None = micros_of(cell, parts.columns.unit, parts.comma) if quick is None else quick
    if exact is None and parts.digits == 6:
        exact = clock_micros(cell)
    if exact is None:
        raise UnreadableRecording(parts.file, f"time {shown(cell)}", line=line, column=column, expected="a number")
    if not -MOST_TIME <= exact <= MOST_TIME:
        raise UnreadableRecording(
            parts.file, f"time {shown(cell)}", line=line, column=column, expected="less than 2,283 years"
        )
    whole = exact.numerator // exact.denominator
    parts.rounded = parts.rounded or whole != exact
    if parts.last is not None:
        if whole < parts.last:
            raise UnreadableRecording(
                parts.file, f"time {shown(cell)} after {shown(parts.last_text)}", line=line, column=column,
                expected="times that do not go back",
            )  # fmt: skip
        if whole == parts.last and not parts.columns.long:
            raise UnreadableRecording(
                parts.file, f"time {shown(cell)} a second time", line=line, column=column, expected="one row a time"
            )
    parts.last, parts.last_text = whole, cell
    return whole


def _rows(parts: _Parts, block: Block) -> Iterator[tuple[int, list[bytes], list[int]]]:
    """Give the rows of a block the slow way: line, cells, and the column at which each cell begins."""
    delimiter = parts.columns.delimiter.encode()
    count = len(parts.columns.names)
    for offset, raw in enumerate(block.data.split(b"\n")):
        line, text = block.line + offset, raw.rstrip(b"\r")
        if not text.strip() or text.lstrip().startswith(b"#"):
            continue
        if b'"' in text:
            try:
                cells = [
                    c.encode()
                    for c in next(csv.reader([text.decode("utf-8", "replace")], delimiter=parts.columns.delimiter))
                ]
            except csv.Error as error:
                raise UnreadableRecording(parts.file, f"{shown(text)} ({error})", line=line) from None
        else:
            cells = text.split(delimiter)
        if len(cells) != count:
            raise UnreadableRecording(
                parts.file, f"{len(cells)} cells in {shown(text)}", line=line, expected=f"{count}, as in the header"
            )
        starts = [1]
        for cell in cells:
            starts.append(starts[-1] + len(cell) + 1)
        yield line, cells, starts


def _value(parts: _Parts, cell: bytes, name: str, line: int, column: int) -> float:
    value = value_of(cell, parts.comma)
    if value is None:
        raise UnreadableRecording(
            parts.file, f"{shown(cell)} for {shown(name)}", line=line, column=column, expected=VALUE_WORDS
        )
    return value


def _slow_wide(parts: _Parts, block: Block) -> None:
    names, at = parts.columns.names, parts.columns.time
    times: list[int] = []
    values: list[list[float]] = [[] for _ in names]
    for line, cells, starts in _rows(parts, block):
        times.append(_micros(parts, cells[at], line, starts[at]))
        for index, cell in enumerate(cells):
            if index != at:
                values[index].append(_value(parts, cell, names[index], line, starts[index]))
    _keep(parts, np.array(times, dtype=np.int64), [np.array(column, dtype=np.float64) for column in values])


def _keep(parts: _Parts, times: Times, values: list[Values]) -> None:
    if not len(times):
        return
    parts.times.append(times)
    for index, name in enumerate(parts.columns.names):
        if index != parts.columns.time:
            parts.pieces.setdefault(name, []).append(without_repeats(times, values[index]))


def _quick_wide(parts: _Parts, block: Block) -> bool:
    """Take in a block of plain cells at once; False, and nothing taken in, if anything in it is not plain."""
    data = np.frombuffer(block.data if block.data.endswith(b"\n") else block.data + b"\n", dtype=np.uint8)
    count, delimiter = len(parts.columns.names), ord(parts.columns.delimiter)
    parting = np.flatnonzero((data == delimiter) | (data == 10))
    if not len(parting) or len(parting) % count:
        return False
    ends = parting.reshape(-1, count)
    breaks = data[ends] == 10
    if not breaks[:, -1].all() or breaks[:, :-1].any():
        return False
    starts = np.concatenate(([0], parting[:-1] + 1)).reshape(-1, count)
    if data[ends[0, -1] - 1] == 13:
        ends = ends.copy()
        ends[:, -1] -= data[ends[:, -1] - 1] == 13
    at = parts.columns.time
    points = [44, 46] if parts.comma else [46]
    read = next((r for p in points if (r := plain_decimals(data, starts[:, at], ends[:, at], p))), None)
    micros = scaled_micros(*read, parts.columns.unit) if read else None
    if micros is None:
        return False
    times, rounded = micros
    if (parts.last is not None and times[0] <= parts.last) or np.any(times[1:] <= times[:-1]):
        return False
    if times[0] < -MOST_TIME or times[-1] > MOST_TIME:
        return False
    values: list[Values] = []
    for index in range(count):
        if index == at:
            values.append(np.empty(0))
            continue
        column = _quick_column(data, starts[:, index], ends[:, index], points, parts.comma)
        if column is None:
            return False
        values.append(column)
    parts.rounded = parts.rounded or rounded
    parts.last = int(times[-1])
    parts.last_text = data[starts[-1, at] : ends[-1, at]].tobytes()
    _keep(parts, times, values)
    return True


def _quick_column(data: np.ndarray, starts: Times, ends: Times, points: list[int], comma: bool) -> Values | None:
    lengths = ends - starts
    if np.all(lengths == 1):
        byte = data[starts]
        if np.all((byte >= 48) & (byte <= 57)):
            return (byte - 48).astype(np.float64)
    for point in points:
        if (read := plain_decimals(data, starts, ends, point)) and (floats := floats_of(*read)) is not None:
            return floats
    words: dict[bytes, float | None] = {}
    found: list[float] = []
    whole = data.tobytes()
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        cell = whole[start:end]
        if cell not in words:
            words[cell] = value_of(cell, comma) if b'"' not in cell else None
        value = words[cell]
        if value is None:
            return None
        found.append(value)
    return np.array(found, dtype=np.float64)


def _slow_long(parts: _Parts, block: Block, seen: dict[str, tuple[list[int], list[float]]]) -> None:
    columns = parts.columns
    assert columns.signal is not None
    assert columns.value is not None
    for line, cells, starts in _rows(parts, block):
        time = _micros(parts, cells[columns.time], line, starts[columns.time])
        name = cells[columns.signal].strip().decode("utf-8", "replace")
        if not name:
            raise UnreadableRecording(
                parts.file, "no signal", line=line, column=starts[columns.signal], expected="a name"
            )
        value = _value(parts, cells[columns.value], name, line, starts[columns.value])
        times, values = seen.setdefault(name, ([], []))
        if times and times[-1] == time and not (values[-1] == value or (values[-1] != values[-1] and value != value)):
            raise UnreadableRecording(
                parts.file, f"a second value for {shown(name)} at {shown(parts.last_text)}",
                line=line, column=starts[columns.value],
                expected="one value a signal and time",
            )  # fmt: skip
        times.append(time)
        values.append(value)
        if not parts.times:
            parts.times.append(np.array([time], dtype=np.int64))


def _header(source: Iterator[Block], file: str) -> tuple[Columns, Block]:
    line = 1
    for block in source:
        lines = block.data.split(b"\n")
        for offset, raw in enumerate(lines):
            line = block.line + offset
            if not raw.strip() or raw.lstrip().startswith(b"#"):
                continue
            if b"\0" in raw:
                raise UnreadableRecording(
                    file,
                    f"it begins with {shown(raw, 16)}, which is not text",
                    line=line,
                    expected="a VCD or CSV file in UTF-8",
                )
            try:
                text = raw.decode("utf-8")
            except UnicodeDecodeError:
                text = raw.decode("latin-1")
            try:
                columns = columns_of(text.rstrip("\r"), file, line)
            except csv.Error as error:
                raise UnreadableRecording(file, f"header {shown(raw)} ({error})", line=line) from None
            return columns, Block(line + 1, b"\n".join(lines[offset + 1 :]))
    raise UnreadableRecording(file, "the file is empty", line=line, expected="a VCD or CSV recording")


def read_csv(source: Iterator[Block], file: str) -> Recording:
    """Read a table, wide or long. Raises UnreadableRecording with the line of the first thing that is wrong."""
    columns, rest = _header(source, file)
    parts = _Parts(columns, file)
    seen: dict[str, tuple[list[int], list[float]]] = {}
    last = rest
    for block in _chain(rest, source):
        last = block if block.data.strip() else last
        if columns.long:
            _slow_long(parts, block, seen)
        elif not _quick_wide(parts, block):
            _slow_wide(parts, block)
    if not parts.times or parts.last is None:
        raise UnreadableRecording(file, "there are no rows below the header", line=last.line, expected="rows of values")
    start, end = int(parts.times[0][0]), parts.last
    channels: dict[str, Channel] = {}
    if columns.long:
        for name, (stamps, levels) in seen.items():
            channels[name] = channel_of(name, np.array(stamps, dtype=np.int64), np.array(levels, dtype=np.float64))
        return Recording(file, "long CSV", start, end, channels, rounded=parts.rounded)
    for name, pieces in parts.pieces.items():
        channels[name] = channel_of(
            name, np.concatenate([p[0] for p in pieces]), np.concatenate([p[1] for p in pieces])
        )
    return Recording(file, "wide CSV", start, end, channels, np.concatenate(parts.times), parts.rounded)


def _chain(first: Block, others: Iterator[Block]) -> Iterator[Block]:
    if first.data:
        yield first
    yield from others
