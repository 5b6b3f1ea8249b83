"""Writing a recording of changes as a value change dump, through pyvcd.

Law of this module: what is written reads back as the same channels, times, start and end; a measured number to 16
significant digits.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from typing import TextIO

from boardgauge.traces.recording import Channel, Recording


def _series(index: int, channel: Channel, start: int) -> Iterator[tuple[int, int, float]]:
    for time, value in zip(channel.times.tolist(), channel.values.tolist(), strict=True):
        if time > start:
            yield time, index, value


def write_vcd(recording: Recording, stream: TextIO, scope: str = "board") -> None:
    """Write a recording, in microseconds. Of a sampled one the changes are written, not the samples.

    Raises ValueError for a time before 0 or a channel name with blanks: the format has neither.
    """
    from vcd import VCDWriter

    if recording.start < 0:
        raise ValueError(f"a value change dump begins at 0 or later, not at {recording.start} microseconds")
    # Without a date of its own: what is written depends on the recording alone.
    with VCDWriter(stream, timescale="1 us", date="", init_timestamp=recording.start) as writer:
        variables, digital = [], []
        for channel in recording.channels.values():
            if not channel.name or any(c.isspace() for c in channel.name):
                raise ValueError(f"a channel called {channel.name!r} cannot stand in a value change dump")
            digital.append(channel.digital)
            first = channel.at(recording.start)
            kind, size = ("wire", 1) if channel.digital else ("real", 64)
            variables.append(
                writer.register_var(scope, channel.name, kind, size, init=_written(first, channel.digital))
            )
        series = (_series(index, channel, recording.start) for index, channel in enumerate(recording.channels.values()))
        for time, index, value in heapq.merge(*series):
            writer.change(variables[index], time, _written(value, digital[index]))
        writer.close(recording.end)


def _written(value: float, digital: bool) -> float | str:
    if not digital:
        return value
    return "x" if math.isnan(value) else str(int(value))
