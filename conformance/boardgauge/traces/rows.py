"""A recording as the rows of a table: wide, a sample of every channel a row, or long, one change a row.

Law of this module: the rows say all that the channels say and nothing else; they come in pieces, so that a table of any
length is written in bounded memory.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from boardgauge.traces.recording import Recording, Times, Values

PIECE = 65_536
"""So many rows come at once."""


def moments_of(recording: Recording) -> Times:
    """Give the times of the rows of a wide table: the samples, or else each time at which something changes."""
    if recording.samples is not None:
        return np.asarray(recording.samples)
    ends = np.array([recording.start, recording.end], dtype=np.int64)
    moments: Times = np.unique(np.concatenate([ends, *(channel.times for channel in recording.channels.values())]))
    return moments[(moments >= recording.start) & (moments <= recording.end)]


def wide_rows(recording: Recording, piece: int = PIECE) -> Iterator[tuple[Times, list[Values]]]:
    """Give times and, for each channel, its values at those times."""
    moments = moments_of(recording)
    for begin in range(0, len(moments), piece):
        times = moments[begin : begin + piece]
        columns: list[Values] = []
        for channel in recording.channels.values():
            index = np.searchsorted(channel.times, times, side="right") - 1
            if len(channel.values):
                columns.append(np.where(index < 0, np.nan, channel.values[np.maximum(index, 0)]))
            else:
                columns.append(np.full(len(times), np.nan))
        yield times, columns


def long_rows(recording: Recording, piece: int = PIECE) -> Iterator[tuple[Times, npt.NDArray[np.int32], Values]]:
    """Give times, numbers of channels and values, in the order of time and channel.

    First comes every channel's value at the start, and last, where nothing changes at the end, one channel's value.
    """
    channels = list(recording.channels.values())
    first = np.array([channel.at(recording.start) for channel in channels], dtype=np.float64)
    yield np.full(len(channels), recording.start, dtype=np.int64), np.arange(len(channels), dtype=np.int32), first
    afters = [int(np.searchsorted(channel.times, recording.start, side="right")) for channel in channels]
    later = [channel.times[after:] for channel, after in zip(channels, afters, strict=True)]
    times = np.concatenate(later) if later else np.zeros(0, dtype=np.int64)
    numbers = np.repeat(np.arange(len(channels), dtype=np.int32), [len(part) for part in later])
    values = np.concatenate(
        [channel.values[after:] for channel, after in zip(channels, afters, strict=True)] or [first]
    )
    # Stable, and the channels follow one another: at one time they come in their order.
    order = np.argsort(times, kind="stable")
    for begin in range(0, len(order), piece):
        part = order[begin : begin + piece]
        yield times[part], numbers[part], values[part]
    last = int(times[order[-1]]) if len(order) else recording.start
    if channels and last < recording.end:
        end = np.array([recording.end], dtype=np.int64)
        yield end, np.zeros(1, dtype=np.int32), np.array([channels[0].at(recording.end)])
