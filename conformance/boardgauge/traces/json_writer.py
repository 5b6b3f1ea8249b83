"""Writing a recording as JSON lines: a sample or a change an object, an object a line.

Law of this module: what is written reads back as the same channels, times, samples, start and end. Times are seconds,
written out to the microsecond they are; "not known" is null.
"""

from __future__ import annotations

import json
import math
from typing import TextIO

from boardgauge.traces.csv_columns import time_unit
from boardgauge.traces.csv_writer import number_of, seconds_of
from boardgauge.traces.notes import KEY
from boardgauge.traces.recording import Recording
from boardgauge.traces.rows import long_rows, wide_rows


def fits_in_json(name: str) -> bool:
    """Tell whether a key may be called so and be read as a channel."""
    return (
        bool(name)
        and name == name.strip()
        and time_unit(name) is None
        and name.isprintable()
        and name != KEY
        and name.lower() not in ("signal", "channel", "name", "value", "level", "state")
    )


def write_json_wide(recording: Recording, stream: TextIO) -> None:
    """Write an object for each sample; of a recording of changes, for each time at which something changes."""
    keys = [f", {json.dumps(name, ensure_ascii=False)}: " for name in recording.channels]
    for times, columns in wide_rows(recording):
        texts = [[key + _value(value) for value in column.tolist()] for key, column in zip(keys, columns, strict=True)]
        for number, time in enumerate(times.tolist()):
            stream.write(f'{{"t_s": {seconds_of(time)}{"".join(text[number] for text in texts)}}}\n')


def write_json_long(recording: Recording, stream: TextIO) -> None:
    """Write an object for each change, and before them one for each channel's value at the start."""
    names = [json.dumps(name, ensure_ascii=False) for name in recording.channels]
    for times, numbers, values in long_rows(recording):
        for time, number, value in zip(times.tolist(), numbers.tolist(), values.tolist(), strict=True):
            stream.write(f'{{"t_s": {seconds_of(time)}, "signal": {names[number]}, "value": {_value(value)}}}\n')


def _value(value: float) -> str:
    return "null" if math.isnan(value) else number_of(value)
