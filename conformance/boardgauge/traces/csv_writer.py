"""Writing a recording as a table, wide or long.

Law of this module: what is written reads back as the same channels, times, samples, start and end. Times are seconds,
written out to the microsecond they are; "not known" is an empty cell.
"""

from __future__ import annotations

import csv
import heapq
import math
from typing import TextIO

import numpy as np

from boardgauge.traces.recording import Recording


def seconds_of(microseconds: int, point: str = ".") -> str:
    """Write a time in seconds, exactly and as short as it goes."""
    whole, part = divmod(abs(microseconds), 1_000_000)
    text = f"{whole}{point}{part:06d}".rstrip("0").rstrip(point) if part else str(whole)
    return f"-{text}" if microseconds < 0 else text


def _cell(value: float, point: str) -> str:
    if math.isnan(value):
        return ""
    text = str(int(value)) if value == int(value) and abs(value) < 2**53 else repr(value)
    return text.replace(".", point)


def _point(delimiter: str, comma: bool) -> str:
    if comma and delimiter == ",":
        raise ValueError("a decimal comma needs a semicolon or a tab between columns")
    return "," if comma else "."


def write_wide(recording: Recording, stream: TextIO, delimiter: str = ",", decimal_comma: bool = False) -> None:
    """Write a sampled recording, a row a sample. Raises ValueError for a recording of changes."""
    if recording.samples is None:
        raise ValueError("a recording of changes has no samples; write it as a long table")
    point = _point(delimiter, decimal_comma)
    rows = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    rows.writerow(["t_s", *recording.channels])
    columns: list[list[str]] = []
    for channel in recording.channels.values():
        index = np.searchsorted(channel.times, recording.samples, side="right") - 1
        texts = [*(_cell(value, point) for value in channel.values.tolist()), ""]
        columns.append([texts[i] for i in index.tolist()])
    for number, time in enumerate(recording.samples.tolist()):
        rows.writerow([seconds_of(time, point), *(column[number] for column in columns)])


def write_long(recording: Recording, stream: TextIO, delimiter: str = ",", decimal_comma: bool = False) -> None:
    """Write the changes of a recording, a row a change, with every channel's value at the start and at the end.

    Raises ValueError for a recording without channels: a long table has nothing else to carry its start and end.
    """
    if not recording.channels:
        raise ValueError("a recording without channels cannot be written as a long table")
    point = _point(delimiter, decimal_comma)
    rows = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    rows.writerow(["t_s", "signal", "value"])
    channels = list(recording.channels.values())
    series = [
        [(time, index, value) for time, value in zip(channel.times.tolist(), channel.values.tolist(), strict=True)]
        for index, channel in enumerate(channels)
    ]
    for index, channel in enumerate(channels):
        rows.writerow([seconds_of(recording.start, point), channel.name, _cell(channel.at(recording.start), point)])
        series[index] = [row for row in series[index] if row[0] > recording.start]
    for time, index, value in heapq.merge(*series):
        rows.writerow([seconds_of(time, point), channels[index].name, _cell(value, point)])
    last = channels[0]
    rows.writerow([seconds_of(recording.end, point), last.name, _cell(last.at(recording.end), point)])
