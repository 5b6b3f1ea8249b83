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
from typing import TYPE_CHECKING

import numpy as np
from attrs import define, field

from boardgauge.traces.cells import floor_of, time_in, value_in, within
from boardgauge.traces.csv_columns import Columns, columns_from
from boardgauge.traces.decimals import VALUE_WORDS
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.growing import Growing
from boardgauge.traces.notes import KEY, Misfit, NoteReader, misfit, with_notes
from boardgauge.traces.recording import Recording
from boardgauge.traces.samples import GrowingSamples
from boardgauge.traces.source import Block

if TYPE_CHECKING:
    from boardgauge.traces.shelf import Shelf

_DEEPEST = 20
_AT_ONCE = 4096
"""So many changes of a channel, or samples, are taken in at once."""


@define
class _Series:
    """One channel so far: its changes, the latest of them row by row."""

    kept: Growing
    times: array[int] = field(factory=lambda: array("q"))
    values: array[float] = field(factory=lambda: array("d"))
    raw: object = field(factory=object)
    """What was last read, as it stood in the file: the same again is no change."""

    def add(self, time: int, value: float) -> None:
        if not self.values or not (value == self.values[-1] or (value != value and self.values[-1] != self.values[-1])):
            if len(self.times) >= _AT_ONCE:
                self.take_in()
            self.times.append(time)
            self.values.append(value)

    def take_in(self) -> Growing:
        self.kept.add(np.array(self.times, np.int64), np.array(self.values, np.float64))
        del self.times[:], self.values[:]
        return self.kept


@define
class _Reader:
    file: str
    shelf: Shelf | None = None
    columns: Columns | None = None
    keys: dict[str, None] = field(factory=dict)
    """Of a wide recording, the keys of the sample before."""
    series: dict[str, _Series] = field(factory=dict)
    samples: array[int] = field(factory=lambda: array("q"))
    sampled: GrowingSamples = field(factory=GrowingSamples)
    """The samples but the latest."""
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
        if name not in self.series:
            self.series[name] = _Series(Growing(shelf=self.shelf))
        series = self.series[name]
        if self.stood.get(name) == time and not (value == series.raw or (value != value and series.raw != series.raw)):
            raise self.wrong(
                f"a second value for {shown(name)} at {self.last_text}", line, "one value a signal and time"
            )
        self.stood[name], series.raw = time, value
        series.add(time, value)

    def sample(self, row: dict[str, object], key: str, time: int, line: int) -> None:
        if len(self.samples) >= _AT_ONCE:
            self.take_in()
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
                    self.series[name] = _Series(Growing(shelf=self.shelf))
        for name, raw in row.items():
            if name != key:
                series = self.series[name]
                # By type as well: 1 and true are equal, and text and numbers are told apart.
                if raw != series.raw or type(raw) is not type(series.raw):
                    series.add(time, self.value(raw, name, line))
                    series.raw = raw

    def take_in(self) -> GrowingSamples:
        self.sampled.add(np.array(self.samples, np.int64))
        del self.samples[:]
        return self.sampled

    def value(self, raw: object, name: str, line: int) -> float:
        value = value_in(raw)
        if value is None:
            raise self.wrong(f"value {_text(raw)} for {shown(name)}", line, VALUE_WORDS)
        return value


def _is_name(text: str) -> bool:
    """Tell whether a text can be the name of a channel: not empty, and no half of a pair of UTF-16."""
    return bool(text) and not any("\ud800" <= c <= "\udfff" for c in text)


class _Twice(Exception):
    """A key that stands twice in an object."""


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        raise _Twice(next(key for key in keys if keys.count(key) > 1))
    return found


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


def read_json_lines(source: Iterator[Block], file: str, shelf: Shelf | None = None) -> Recording:
    """Read JSON lines. Raises UnreadableRecording with the line of the first thing that is wrong.

    With a ``shelf``, changes are put away there.
    """
    reader = _Reader(file, shelf)
    # Numbers stay text: a time is taken from its digits, and not through a float.
    decoder = json.JSONDecoder(parse_float=str, parse_constant=str, object_pairs_hook=_object)
    notes = NoteReader()
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
            except _Twice as error:
                raise reader.wrong(f"two values for {shown(str(error))}", line, "one") from None
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
                try:
                    notes.take(note)
                except Misfit as error:
                    raise misfit(file, error, line) from None
                continue
            reader.take(row, line)
    if reader.first is None or reader.last is None or reader.columns is None:
        raise reader.wrong("there are no samples and no changes", line, "a JSON object on each line")
    channels = {name: series.take_in().channel(name) for name, series in reader.series.items()}
    if reader.columns.long:
        recording = Recording(
            file, "long JSON lines", reader.first, reader.last, channels, None, reader.rounded
        )  # fmt: skip
    else:
        samples = reader.take_in().samples()
        recording = Recording(
            file, "wide JSON lines", reader.first, reader.last, channels, samples, reader.rounded
        )  # fmt: skip
    try:
        return with_notes(notes.notes(), recording) if notes.found else recording
    except Misfit as error:
        raise misfit(file, error, noted) from None
