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
from typing import TYPE_CHECKING

import numpy as np
from attrs import define, evolve, field

from boardgauge.traces.cell_columns import Names
from boardgauge.traces.csv_blocks import Long, Wide, take_long, take_wide
from boardgauge.traces.csv_columns import Columns, aliases
from boardgauge.traces.csv_header import read_header
from boardgauge.traces.decimals import (
    DAY,
    VALUE_WORDS,
    clock_micros,
    decimals_to_micros,
    is_time_of_day,
    micros_of,
    plain_micros,
    value_of,
)
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.growing import Growing
from boardgauge.traces.reading_ahead import worked_ahead
from boardgauge.traces.recording import MOST_TIME, Recording, Times, Values
from boardgauge.traces.samples import GrowingSamples
from boardgauge.traces.source import Block

if TYPE_CHECKING:
    from boardgauge.traces.reduction import Reduction
    from boardgauge.traces.shelf import Shelf


TIME_CELLS = "a number, or the reading of a clock: hh:mm:ss, with a date (yyyy-mm-dd) before it or without"


@define
class _Parts:
    """What was read so far: the times of a wide table, and the changes of each signal."""

    columns: Columns
    file: str
    reduction: Reduction | None = None
    shelf: Shelf | None = None
    samples: GrowingSamples = field(factory=GrowingSamples)
    channels: dict[str, Growing] = field(factory=dict)
    names: Names = field(factory=Names)
    stood: dict[str, tuple[int, float]] = field(factory=dict)
    """Of a long table, the last row of each signal."""
    first: int | None = None
    last: int | None = None
    last_text: bytes = b""
    rounded: bool = False
    marks: frozenset[int] = frozenset()
    """What has stood for the decimal point: point, comma."""
    days: int = 0
    """How often a clock without a date has passed midnight."""
    digits: int | None = field(init=False)

    @digits.default
    def _digits(self) -> int | None:
        return decimals_to_micros(self.columns.unit)

    @property
    def comma(self) -> bool:
        return self.columns.delimiter != ","

    def later(self, data: bytes) -> int:
        """Give how much later times of day in a block are for the days that have passed."""
        return self.days * DAY if self.days and b":" in data[: data.find(b"\n") + 1] else 0

    def channel(self, name: str) -> Growing:
        """Give the channel of this name, new if need be."""
        if name not in self.channels:
            aliased = [alias for alias, own in aliases(self.columns.names).items() if own == name]
            ask = None if self.reduction is None else self.reduction.of((name, *aliased))
            self.channels[name] = Growing(ask=ask, shelf=self.shelf)
        return self.channels[name]

    def taken(self, data: bytes) -> Wide | Long | None:
        """Read a block at once, apart from all others; None if not all of it is plain."""
        return take_long(data, self.columns, self.names) if self.columns.long else take_wide(data, self.columns)

    def put(self, taken: Wide | Long | None, data: bytes) -> bool:
        """Add what was taken of a block; False, and nothing added, if it does not follow plainly on what was before."""
        marks = self.marks if taken is None else self.marks | taken.marks
        if len(marks) > 1:
            return False
        if not (self._put_long(taken, data) if isinstance(taken, Long) else self._put_wide(taken, data)):
            return False
        self.marks = marks
        return True

    def marked(self, cell: bytes, line: int, column: int) -> None:
        """Take note of the decimal point of a number. Raises UnreadableRecording where others have the other one."""
        if self.comma and (found := frozenset(cell) & frozenset(b".,")):
            self.marks |= found
            if len(self.marks) > 1:
                own = "comma" if b"," in cell else "point"
                raise UnreadableRecording(
                    self.file, f"{shown(cell)} with a {own}, and other numbers without", line=line, column=column,
                    expected="a decimal point or a decimal comma in all of them, and nothing between thousands",
                )  # fmt: skip

    def _put_wide(self, taken: Wide | None, data: bytes) -> bool:
        taken = taken and evolve(taken, times=taken.times + self.later(data))
        if taken is None or (self.last is not None and taken.times[0] <= self.last):
            return False
        for index, rows, values in taken.changes:
            channel = self.channel(self.columns.names[index])
            # Mostly nothing changed: that is seen quicker here.
            if len(rows) > 1 or not (channel.values and channel.values[-1] == values[0]):
                channel.add(taken.times.take(rows), values)
        self._went(int(taken.times[0]), int(taken.times[-1]), taken.rounded, data)
        self.samples.add(taken.times)
        return True

    def _put_long(self, taken: Long, data: bytes) -> bool:
        later = self.later(data)
        if self.last is not None and taken.first + later < self.last:
            return False
        found: dict[str, tuple[Times, Values]] = {}
        for number, _, times, values in sorted(taken.signals, key=lambda signal: signal[1]):
            name = self.names.texts[number].strip().decode("utf-8", "replace")
            # A name written in two ways, or none: row by row.
            if name in found or not name:
                return False
            times = times + later if later else times
            stood = self.stood.get(name)
            meets = taken.twice or (stood is not None and stood[0] == times[0])
            if meets and _contradict(times, values, stood):
                return False
            found[name] = times, values
        for name, (times, values) in found.items():
            self.channel(name).add(times, values)
            self.stood[name] = int(times[-1]), float(values[-1])
        self._went(taken.first + later, taken.last + later, taken.rounded, data)
        return True

    def _went(self, first: int, last: int, rounded: bool, data: bytes) -> None:
        self.first = first if self.first is None else self.first
        self.rounded = self.rounded or rounded
        self.last = last
        lines = data.rstrip()
        cells = lines[lines.rfind(b"\n") + 1 :].split(self.columns.delimiter.encode())
        self.last_text = cells[self.columns.time]


def _contradict(times: Times, values: Values, before: tuple[int, float] | None) -> bool:
    """Tell whether a signal has two values at one time."""
    if before is not None:
        times, values = np.concatenate(([before[0]], times)), np.concatenate(([before[1]], values))
    once = times[1:] == times[:-1]
    old, new = values[:-1][once], values[1:][once]
    return bool(((old != new) & ~(np.isnan(old) & np.isnan(new))).any())


def _micros(parts: _Parts, cell: bytes, line: int, column: int) -> int:
    if b":" not in cell:
        parts.marked(cell, line, column)
    quick = plain_micros(cell, parts.digits)
    exact: Fraction | int | None = micros_of(cell, parts.columns.unit, parts.comma) if quick is None else quick
    if exact is None and parts.digits == 6 and (exact := clock_micros(cell)) is not None and is_time_of_day(cell):
        if parts.last is not None and exact + parts.days * DAY <= parts.last - DAY // 2:
            parts.days += 1
        exact += parts.days * DAY
    if exact is None:
        raise UnreadableRecording(parts.file, f"time {shown(cell)}", line=line, column=column, expected=TIME_CELLS)
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
                row = text.decode("utf-8", "replace")
                read = csv.reader([row], delimiter=parts.columns.delimiter, strict=True)
                cells = [c.encode() for c in next(read)]
            except csv.Error as error:
                raise UnreadableRecording(parts.file, f"{shown(text)} ({error})", line=line) from None
        else:
            cells = text.split(delimiter)
        if len(cells) != count:
            raise UnreadableRecording(
                parts.file, f"{len(cells)} cells in {shown(text)}", line=line, expected=f"{count}, as in the header"
            )
        # The number of a row that has none of its own takes no room in its line.
        starts = [-len(cells[0]) if parts.columns.counted else 1]
        for cell in cells:
            starts.append(starts[-1] + len(cell) + 1)
        yield line, cells, starts


def _value(parts: _Parts, cell: bytes, name: str, line: int, column: int) -> float:
    value = value_of(cell, parts.comma)
    parts.marked(cell, line, column)
    if value is None:
        raise UnreadableRecording(
            parts.file, f"{shown(cell)} for {shown(name)}", line=line, column=column, expected=VALUE_WORDS
        )
    return value


def _dated(parts: _Parts, cells: list[bytes]) -> bytes:
    """Give the time cell of a row, with its date before it where that has a column of its own."""
    columns = parts.columns
    time = cells[columns.time]
    return time if columns.date is None else cells[columns.date].strip() + b" " + time.strip()


def _slow_wide(parts: _Parts, block: Block) -> None:
    names, at, date = parts.columns.names, parts.columns.time, parts.columns.date
    times: list[int] = []
    values: list[list[float]] = [[] for _ in names]
    for line, cells, starts in _rows(parts, block):
        times.append(_micros(parts, _dated(parts, cells), line, starts[at]))
        for index, cell in enumerate(cells):
            if index not in (at, date):
                values[index].append(_value(parts, cell, names[index], line, starts[index]))
    if times:
        stamps = np.array(times, dtype=np.int64)
        parts.first = times[0] if parts.first is None else parts.first
        parts.samples.add(stamps)
        for index, name in parts.columns.channels():
            parts.channel(name).add(stamps, np.array(values[index], dtype=np.float64))


def _slow_long(parts: _Parts, block: Block) -> None:
    columns = parts.columns
    assert columns.signal is not None
    assert columns.value is not None
    found: dict[str, tuple[list[int], list[float]]] = {}
    for line, cells, starts in _rows(parts, block):
        time = _micros(parts, _dated(parts, cells), line, starts[columns.time])
        name = cells[columns.signal].strip().decode("utf-8", "replace")
        if not name:
            raise UnreadableRecording(
                parts.file, "no signal", line=line, column=starts[columns.signal], expected="a name"
            )
        value = _value(parts, cells[columns.value], name, line, starts[columns.value])
        before, stood = parts.stood.get(name, (None, value))
        if before == time and not (stood == value or (stood != stood and value != value)):
            raise UnreadableRecording(
                parts.file, f"a second value for {shown(name)} at {shown(parts.last_text)}",
                line=line, column=starts[columns.value],
                expected="one value a signal and time",
            )  # fmt: skip
        parts.stood[name] = time, value
        times, values = found.setdefault(name, ([], []))
        times.append(time)
        values.append(value)
        parts.first = time if parts.first is None else parts.first
    for name, (stamps, levels) in found.items():
        parts.channel(name).add(np.array(stamps, dtype=np.int64), np.array(levels, dtype=np.float64))


def _counted(blocks: Iterator[Block], delimiter: bytes) -> Iterator[Block]:
    """Put the number of each row before it."""
    number = 0
    for block in blocks:
        rows = block.data.split(b"\n")
        for place, row in enumerate(rows):
            if row.strip() and not row.lstrip().startswith(b"#"):
                rows[place] = b"%d%b%b" % (number, delimiter, row)
                number += 1
        yield Block(block.line, b"\n".join(rows))


def read_csv(
    source: Iterator[Block], file: str, reduction: Reduction | None = None, shelf: Shelf | None = None
) -> Recording:
    """Read a table, wide or long. Raises UnreadableRecording with the line of the first thing that is wrong.

    With a ``reduction``, values that nobody will ask for are left out; with a ``shelf``, changes are put away there.
    """
    columns, rest = read_header(source, file)
    parts = _Parts(columns, file, reduction, shelf)
    last = rest
    blocks = _chain(rest, source)
    if columns.counted:
        blocks = _counted(blocks, columns.delimiter.encode())
    for block, taken in worked_ahead(blocks, parts.taken):
        last = block if block.data.strip() else last
        if not parts.put(taken, block.data):
            (_slow_long if columns.long else _slow_wide)(parts, block)
    if parts.first is None or parts.last is None:
        raise UnreadableRecording(file, "there are no rows below the header", line=last.line, expected="rows of values")
    channels = {name: channel.channel(name) for name, channel in parts.channels.items()}
    if columns.long:
        return Recording(file, "long CSV", parts.first, parts.last, channels, None, parts.rounded)
    samples, paths = parts.samples.samples(), aliases(channels)
    return Recording(file, "wide CSV", parts.first, parts.last, channels, samples, parts.rounded, paths)


def _chain(first: Block, others: Iterator[Block]) -> Iterator[Block]:
    if first.data:
        yield first
    yield from others
