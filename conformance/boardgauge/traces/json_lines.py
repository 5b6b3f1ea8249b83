"""Reading JSON lines: an object a line, each a sample or a change.

Law of this module: a line says what it says, whatever the one before it said.

What is chosen here:

- The first object decides what the keys are, as the header of a CSV file does (``csv_columns``): one key is the time,
  and an object of time, ``signal`` and ``value`` is one change, any other a sample of all channels.
- A time is a number in its unit, taken from its digits, or a text with a number or the reading of a clock.
- A value is a number, true or false, null for not known, or a text as a cell of a CSV file has it. A channel that a
  sample leaves out is not known there, never "as before".
- A channel in an object inside goes by its path: ``{"t_s": 1, "inputs": {"y": 0}}`` has the channel ``inputs.y``.
- Notes of our own (``notes``) stand before the first object; empty lines are left out.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from attrs import define, field

from boardgauge.traces.cells import floor_of, time_in, value_in, within
from boardgauge.traces.csv_columns import Columns, columns_from
from boardgauge.traces.decimals import VALUE_WORDS
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.notes import KEY, Misfit, misfit, notes_from, with_notes
from boardgauge.traces.recording import Channel, Recording, channel_of
from boardgauge.traces.source import Block

_DEEPEST = 20


@define
class _Series:
    """One channel so far: its changes."""

    times: array[int] = field(factory=lambda: array("q"))
    values: array[float] = field(factory=lambda: array("d"))
    raw: object = field(factory=object)
    """What was last read, as it stood in the file: the same again is no change."""

    def add(self, time: int, value: float) -> None:
        if not self.values or not (value == self.values[-1] or (value != value and self.values[-1] != self.values[-1])):
            self.times.append(time)
            self.values.append(value)


@define
class _Reader:
    file: str
    columns: Columns | None = None
    keys: dict[str, None] = field(factory=dict)
    """Of a wide recording, the keys of the sample before."""
    series: dict[str, _Series] = field(factory=dict)
    samples: array[int] = field(factory=lambda: array("q"))
    first: int | None = None
    last: int | None = None
    last_text: str = ""
    rounded: bool = False
    stood: dict[str, int] = field(factory=dict)
    """Of a long recording, the time of the last row of each channel."""

    def wrong(self, what: str, line: int, expected: str | None = None) -> UnreadableRecording:
        return UnreadableRecording(self.file, what, line=line, expected=expected)

    def take(self, row: dict[str, object], line: int) -> None:
        if any(isinstance(value, dict) for value in row.values()):
            row = _flat(row, self, line)
        if self.columns is None:
            self.columns = columns_from(tuple(row), ", ", self.file, line)
        names = self.columns.names
        time = self.time(row, names[self.columns.time], self.columns.unit, line)
        if self.columns.signal is not None and self.columns.value is not None:
            self.change(row, names[self.columns.signal], names[self.columns.value], time, line)
        else:
            self.sample(row, names[self.columns.time], time, line)

    def time(self, row: dict[str, object], key: str, unit: Fraction, line: int) -> int:
        assert self.columns is not None
        if key not in row:
            raise self.wrong(f"there is no {shown(key)}", line, "the keys of the first object")
        exact = time_in(row[key], unit)
        text = _text(row[key])
        if exact is None:
            raise self.wrong(f"time {text}", line, "a number")
        whole, inexact = floor_of(exact)
        if not within(whole):
            raise self.wrong(f"time {text}", line, "less than 2,283 years")
        self.rounded = self.rounded or inexact
        if self.last is not None:
            if whole < self.last:
                raise self.wrong(f"time {text} after {self.last_text}", line, "times that do not go back")
            if whole == self.last and not self.columns.long:
                raise self.wrong(f"time {text} a second time", line, "one sample a time")
        else:
            self.first = whole
        self.last, self.last_text = whole, text
        return whole

    def change(self, row: dict[str, object], signal: str, level: str, time: int, line: int) -> None:
        if len(row) != 3 or signal not in row or level not in row:
            raise self.wrong(
                f"the keys {shown(', '.join(row), 80)}", line, "those of the first object, a change a line"
            )
        name = row[signal]
        if not isinstance(name, str) or not _is_name(name):
            raise self.wrong(f"signal {_text(name)}", line, "a name")
        value = self.value(row[level], name, line)
        series = self.series.setdefault(name, _Series())
        if self.stood.get(name) == time and not (value == series.raw or (value != value and series.raw != series.raw)):
            raise self.wrong(
                f"a second value for {shown(name)} at {self.last_text}", line, "one value a signal and time"
            )
        self.stood[name], series.raw = time, value
        series.add(time, value)

    def sample(self, row: dict[str, object], key: str, time: int, line: int) -> None:
        self.samples.append(time)
        if row.keys() != self.keys.keys():
            for name in self.keys:
                if name not in row:
                    self.series[name].raw = None
                    self.series[name].add(time, float("nan"))
            self.keys = dict.fromkeys(row)
            for name in row:
                if name != key and name not in self.series:
                    if not _is_name(name):
                        raise self.wrong(f"the key {shown(name)}", line, "a name for each channel")
                    self.series[name] = _Series()
        for name, raw in row.items():
            if name != key:
                series = self.series[name]
                # By type as well: 1 and true are equal, and text and numbers are told apart.
                if raw != series.raw or type(raw) is not type(series.raw):
                    series.add(time, self.value(raw, name, line))
                    series.raw = raw

    def value(self, raw: object, name: str, line: int) -> float:
        value = value_in(raw)
        if value is None:
            raise self.wrong(f"value {_text(raw)} for {shown(name)}", line, VALUE_WORDS)
        return value


def _is_name(text: str) -> bool:
    """Tell whether a text can be the name of a channel: not empty, and no half of a pair of UTF-16."""
    return bool(text) and not any("\ud800" <= c <= "\udfff" for c in text)


def _text(raw: object) -> str:
    return shown(raw) if isinstance(raw, str) else shown(json.dumps(raw, default=str)).strip("'")


def _flat(row: dict[str, object], reader: _Reader, line: int) -> dict[str, object]:
    found: dict[str, object] = {}

    def walk(inner: dict[str, object], before: str, depth: int) -> None:
        if depth > _DEEPEST:
            raise reader.wrong(f"more than {_DEEPEST} objects inside one another", line)
        for key, value in inner.items():
            if isinstance(value, dict):
                walk(value, f"{before}{key}.", depth + 1)
            elif before + key in found:
                raise reader.wrong(f"two values for {shown(before + key)}", line, "one")
            else:
                found[before + key] = value

    walk(row, "", 0)
    return found


def read_json_lines(source: Iterator[Block], file: str) -> Recording:
    """Read JSON lines. Raises UnreadableRecording with the line of the first thing that is wrong."""
    reader = _Reader(file)
    # Numbers stay text: a time is taken from its digits, and not through a float.
    decoder = json.JSONDecoder(parse_float=str, parse_constant=str)
    said: list[dict[str, object]] = []
    noted = line = 1
    for block in source:
        for offset, raw in enumerate(block.data.split(b"\n")):
            if not raw.strip():
                continue
            line = block.line + offset
            try:
                row = decoder.decode(raw.decode("utf-8"))
            except UnicodeDecodeError:
                raise reader.wrong(shown(raw), line, "text in UTF-8") from None
            except json.JSONDecodeError as error:
                raise UnreadableRecording(
                    file, f"{shown(raw)} is not JSON ({error.msg})", line=line, column=error.colno,
                    expected="a JSON object on each line",
                ) from None  # fmt: skip
            except (RecursionError, ValueError) as error:
                what = "it is too deeply nested" if isinstance(error, RecursionError) else "a number is too long"
                raise reader.wrong(what, line, "a JSON object on each line") from None
            if not isinstance(row, dict):
                raise reader.wrong(shown(raw), line, "a JSON object on each line")
            note = row.get(KEY)
            if reader.last is None and len(row) == 1 and isinstance(note, dict):
                noted = line
                said.append(note)
                continue
            reader.take(row, line)
    if reader.first is None or reader.last is None or reader.columns is None:
        raise reader.wrong("there are no samples and no changes", line, "a JSON object on each line")
    channels: dict[str, Channel] = {
        name: channel_of(name, np.frombuffer(series.times, np.int64), np.frombuffer(series.values, np.float64))
        for name, series in reader.series.items()
    }
    if reader.columns.long:
        recording = Recording(
            file, "long JSON lines", reader.first, reader.last, channels, None, reader.rounded
        )  # fmt: skip
    else:
        samples = np.frombuffer(reader.samples, np.int64)
        recording = Recording(
            file, "wide JSON lines", reader.first, reader.last, channels, samples, reader.rounded
        )  # fmt: skip
    try:
        return with_notes(notes_from(said), recording) if said else recording
    except Misfit as error:
        raise misfit(file, error, noted) from None
