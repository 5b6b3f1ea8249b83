"""A recording as the rows of a table: wide, a sample of every channel a row, or long, one change a row.

Law of this module: the rows say all that the channels say and nothing else; they come in pieces, and are made of pieces
of the channels, so that a table of any length is written in bounded memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from boardgauge.traces.recording import Channel, Recording, Times, Values

PIECE = 65_536
"""So many rows come at once at most."""
CELLS = 1 << 18
"""So many cells come at once at most, but for a table of more columns than that."""
HELD = 1 << 20
"""So many changes of all channels are held at most, while they are put in the order of time."""
_FEWEST = 16
"""So many of each channel at least, however many channels there are."""
Numbers = npt.NDArray[np.int32]


class _Cursor:
    """The changes of a channel still to come."""

    def __init__(self, channel: Channel, most: int) -> None:
        self._pieces = channel.pieces(most)
        self._times: Times = np.zeros(0, np.int64)
        self._values: Values = np.zeros(0, np.float64)
        self.more = True
        """Whether there may be changes that are not held yet."""

    def until(self) -> int | None:
        """Give the time up to which every change is held, None if that is all of them; some are held then."""
        while self.more and not len(self._times):
            self._next()
        return int(self._times[-1]) if self.more else None

    def _next(self) -> None:
        piece = next(self._pieces, None)
        if piece is None:
            self.more = False
        else:
            self._times, self._values = piece

    @property
    def last(self) -> int | None:
        """The time of the last change that is held."""
        return int(self._times[-1]) if len(self._times) else None

    def take(self, time: int) -> tuple[Times, Values]:
        """Give the changes up to a time, that at it too."""
        found: list[tuple[Times, Values]] = []
        while True:
            if not len(self._times):
                if not self.more:
                    break
                self._next()
                continue
            cut = int(np.searchsorted(self._times, time, side="right"))
            found.append((self._times[:cut], self._values[:cut]))
            self._times, self._values = self._times[cut:], self._values[cut:]
            if len(self._times):
                break
        if len(found) == 1:
            return found[0]
        none = np.zeros(0, np.int64), np.zeros(0, np.float64)
        times, values = zip(*found, strict=True) if found else ((none[0],), (none[1],))
        return np.concatenate(times), np.concatenate(values)


def _cursors(channels: Sequence[Channel]) -> list[_Cursor]:
    most = max(_FEWEST, min(PIECE, HELD // max(len(channels), 1)))
    return [_Cursor(channel, most) for channel in channels]


def _windows(channels: Sequence[Channel]) -> Iterator[list[tuple[Times, Values]]]:
    """Give the changes of all channels a stretch of time after the other, few enough for any memory."""
    cursors = _cursors(channels)
    while True:
        ends = [end for cursor in cursors if (end := cursor.until()) is not None]
        lasts = [last for cursor in cursors if (last := cursor.last) is not None]
        if not ends and not lasts:
            return
        horizon = min(ends) if ends else max(lasts)
        yield [cursor.take(horizon) for cursor in cursors]


def rows_at_once(columns: int, piece: int | None = None, cells: int | None = None) -> int:
    """Give how many rows of so many columns come at once."""
    return max(1, min(piece or PIECE, (cells or CELLS) // max(columns, 1)))


def moments_of(recording: Recording, piece: int) -> Iterator[Times]:
    """Give the times of the rows of a wide table: the samples, or else each time at which something changes.

    They come in pieces, so many at most.
    """
    if recording.samples is not None:
        for times in recording.samples.pieces():
            for at in range(0, len(times), piece):
                yield times[at : at + piece]
        return
    last: int | None = None
    ends = np.array([recording.start, recording.end], dtype=np.int64)
    for window in _windows(list(recording.channels.values())):
        moments = np.unique(np.concatenate([times for times, _ in window]))
        moments = moments[(moments > recording.start) & (moments < recording.end)]
        if last is None:
            moments = np.concatenate((ends[:1], moments))
        for at in range(0, len(moments), piece):
            yield moments[at : at + piece]
        last = recording.start
    yield np.unique(ends) if last is None else ends[1:] if recording.end > recording.start else ends[:0]


def wide_rows(recording: Recording, piece: int | None = None) -> Iterator[tuple[Times, list[Values]]]:
    """Give times and, for each channel, its values at those times; ``piece`` rows at once at most."""
    channels = list(recording.channels.values())
    cursors = _cursors(channels)
    stood = [float("nan")] * len(channels)
    for moments in moments_of(recording, piece or rows_at_once(1 + len(channels))):
        if not len(moments):
            continue
        columns: list[Values] = []
        for number, cursor in enumerate(cursors):
            times, values = cursor.take(int(moments[-1]))
            index = np.searchsorted(times, moments, side="right") - 1
            if len(values):
                columns.append(np.where(index < 0, stood[number], values[np.maximum(index, 0)]))
                stood[number] = float(values[-1])
            else:
                columns.append(np.full(len(moments), stood[number]))
        yield moments, columns


def long_rows(recording: Recording, piece: int | None = None) -> Iterator[tuple[Times, Numbers, Values]]:
    """Give times, numbers of channels and values, in the order of time and channel.

    First comes every channel's value at the start, and last, where nothing changes at the end, one channel's value.
    """
    channels = list(recording.channels.values())
    first = np.array([channel.at(recording.start) for channel in channels], dtype=np.float64)
    yield np.full(len(channels), recording.start, dtype=np.int64), np.arange(len(channels), dtype=np.int32), first
    last = recording.start
    size = piece or rows_at_once(3)
    for window in _windows(channels):
        later = [times > recording.start for times, _ in window]
        times = np.concatenate([own[after] for (own, _), after in zip(window, later, strict=True)])
        values = np.concatenate([own[after] for (_, own), after in zip(window, later, strict=True)])
        counts = [int(np.count_nonzero(after)) for after in later]
        numbers = np.repeat(np.arange(len(channels), dtype=np.int32), counts)
        # Stable, and the channels follow one another: at one time they come in their order.
        order = np.argsort(times, kind="stable")
        for begin in range(0, len(order), size):
            part = order[begin : begin + size]
            yield times[part], numbers[part], values[part]
        last = int(times[order[-1]]) if len(order) else last
    if channels and last < recording.end:
        end = np.array([recording.end], dtype=np.int64)
        yield end, np.zeros(1, dtype=np.int32), np.array([channels[0].at(recording.end)])
