"""A block of rows of a table taken in at once.

Law of this module: it takes in what is plain and leaves the rest, and every complaint, to ``csv_format``, which goes
from row to row. Nothing is kept of a block that is not taken in whole.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.traces.cell_columns import Cells, Names, micros_in, values_in
from boardgauge.traces.clocks import clocks_in
from boardgauge.traces.csv_columns import Columns
from boardgauge.traces.digits import Bytes, Positions, Text
from boardgauge.traces.recording import Times, Values

_NEWLINE, _RETURN, _QUOTE = 10, 13, 34
Rows = npt.NDArray[np.intp]


@frozen(eq=False)
class Wide:
    """Rows of a wide table: their times, and of each column but the time those rows in which it changed, and row 0."""

    times: Times
    rounded: bool
    changes: list[tuple[int, Rows, Values]]
    marks: frozenset[int] = frozenset()
    """What stands for the decimal point in its numbers, where it might be either: point, comma."""


@frozen(eq=False)
class Long:
    """Rows of a long table: their first and last time, and of each signal its number, first row, times and values.

    ``twice`` tells whether a signal has two rows at one time.
    """

    first: int
    last: int
    rounded: bool
    twice: bool
    signals: list[tuple[int, int, Times, Values]]
    marks: frozenset[int] = frozenset()


def points_of(columns: Columns) -> bytes:
    """Give what may stand for the decimal point."""
    return b"." if columns.delimiter == "," else b",."


def take_wide(data: bytes, columns: Columns) -> Wide | None:
    """Take in a block of a wide table; None if anything in it is not plain."""
    grid = _grid(data, columns)
    if grid is None:
        return None
    time = _times(grid, columns)
    if time is None or (time[0][1:] <= time[0][:-1]).any():
        return None
    changes: list[tuple[int, Rows, Values]] = []
    for index, _ in columns.channels():
        change = _changes(grid, index, points_of(columns))
        if change is None:
            return None
        changes.append((index, *change))
    return Wide(*time, changes, _marks(grid, columns, [index for index, _ in columns.channels()]))


def take_long(data: bytes, columns: Columns, names: Names) -> Long | None:
    """Take in a block of a long table; None if anything in it is not plain. ``names`` grows with it."""
    grid = _grid(data, columns)
    if grid is None or columns.signal is None or columns.value is None:
        return None
    time = _times(grid, columns)
    if time is None or (time[0][1:] < time[0][:-1]).any():
        return None
    values = values_in(grid.column(columns.value), points_of(columns))
    numbers = names.numbers_in(grid.column(columns.signal))
    if values is None or numbers is None:
        return None
    # Small numbers are sorted by their digits, in linear time.
    count = len(names.texts)
    small = numbers.astype(np.uint8 if count <= 1 << 8 else np.uint16 if count <= 1 << 16 else np.int64)
    order = np.argsort(small, kind="stable")
    inside = small.take(order)
    borders = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    firsts = np.concatenate(([0], borders))
    stamps, sorted_values = time[0].take(order), values.take(order)
    twice = bool(((stamps[1:] == stamps[:-1]) & (inside[1:] == inside[:-1])).any())
    signals = list(
        zip(
            inside.take(firsts).tolist(),
            order.take(firsts).tolist(),
            np.split(stamps, borders),
            np.split(sorted_values, borders),
            strict=True,
        )
    )
    return Long(int(time[0][0]), int(time[0][-1]), time[1], twice, signals, _marks(grid, columns, [columns.value]))


def _times(grid: _Grid, columns: Columns) -> tuple[Times, bool] | None:
    if columns.date is not None:
        return None
    cells = grid.column(columns.time)
    if columns.unit == 10**6 and b":" in cells.at(0):
        return clocks_in(cells)
    return micros_in(cells, points_of(columns), columns.unit)


def _marks(grid: _Grid, columns: Columns, values: list[int]) -> frozenset[int]:
    """Give which of point and comma stand in the numbers of a block; none where it can only be the point."""
    if columns.delimiter == ",":
        return frozenset()
    numbers = np.zeros(len(grid.ends), dtype=bool)
    numbers[values] = True
    numbers[columns.time] = columns.date is None and b":" not in grid.column(columns.time).at(0)
    parting = grid.ends.T.ravel()
    found = []
    for mark in b".,":
        places = np.flatnonzero(grid.text.data == mark)
        if len(places) and numbers[np.searchsorted(parting, places) % len(numbers)].any():
            found.append(mark)
    return frozenset(found)


@frozen(eq=False)
class _Grid:
    """The cells of a block: for each column (first) and row where the cell ends, and where the rows begin."""

    text: Text
    begins: Positions
    ends: Positions

    def column(self, index: int) -> Cells:
        return Cells(self.text, self.ends[index - 1] + 1 if index else self.begins, self.ends[index])


def _grid(data: bytes, columns: Columns) -> _Grid | None:
    if b"#" in data or b"\0" in data:
        return None
    data = data if data.endswith(b"\n") else data + b"\n"
    if b'"' in data:
        unquoted = _unquoted(data, columns.delimiter.encode())
        if unquoted is None:
            return None
        data = unquoted
    text = Text.of(data)
    chars, count, delimiter = text.data, len(columns.names), ord(columns.delimiter)
    newlines = chars == _NEWLINE
    rows = int(np.count_nonzero(newlines))
    parting = np.flatnonzero((chars == delimiter) | newlines)
    if len(parting) != rows * count:
        return None
    # Column by column, each in one piece: a column is gone through many times.
    ends = np.ascontiguousarray(parting.reshape(-1, count).T)
    if not newlines.take(ends[-1]).all():
        return None
    begins = np.empty(rows, dtype=np.int64)
    begins[0] = 0
    np.add(ends[-1][:-1], 1, out=begins[1:])
    returns = chars.take(np.maximum(ends[-1] - 1, 0)) == _RETURN
    if returns.any():
        starts = ends[-2] + 1 if count > 1 else begins
        ends[-1] -= returns & (ends[-1] > starts)
    return _Grid(text, begins, ends)


def _unquoted(data: bytes, delimiter: bytes) -> bytes | None:
    """Take the quotes off cells that are quoted as a whole and hold nothing that needs it; None if there are others."""
    chars = np.frombuffer(data, dtype=np.uint8)
    quotes = np.flatnonzero(chars == _QUOTE)
    if len(quotes) % 2:
        return None
    opens, closes = quotes[::2], quotes[1::2]
    before = np.where(opens > 0, chars[opens - 1], _NEWLINE)
    after = chars[closes + 1]
    parts = (ord(delimiter), _NEWLINE)
    if not np.isin(before, parts).all() or not np.isin(after, (*parts, _RETURN)).all():
        return None
    # No cell ends between an opening quote and its closing one.
    parting = np.flatnonzero((chars == parts[0]) | (chars == _NEWLINE))
    if not np.array_equal(np.searchsorted(parting, opens), np.searchsorted(parting, closes)):
        return None
    return data.replace(b'"', b"")


def _changes(grid: _Grid, index: int, points: bytes) -> tuple[Rows, Values] | None:
    """Give the rows in which a column changed, and row 0, with their values; None if a cell is not plain."""
    starts = grid.ends[index - 1] if index else grid.begins - 1
    ends = grid.ends[index]
    if (ends - starts == 2).all():
        # One character a cell: where it changes is all that needs to be read.
        rows = _news(grid.text.data.take(ends - 1))
        cells = Cells(grid.text, starts[rows] + 1, ends[rows])
        values = values_in(cells, points)
        return None if values is None else (rows, values)
    values = values_in(grid.column(index), points)
    if values is None:
        return None
    rows = np.flatnonzero(
        np.concatenate(([True], (values[1:] != values[:-1]) & ~(np.isnan(values[1:]) & np.isnan(values[:-1]))))
    )
    return rows, values.take(rows)


def _news(chars: Bytes) -> Rows:
    news = np.empty(len(chars), dtype=bool)
    news[0] = True
    np.not_equal(chars[1:], chars[:-1], out=news[1:])
    return np.flatnonzero(news)
