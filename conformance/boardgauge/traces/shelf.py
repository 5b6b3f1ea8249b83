"""Changes of a long recording, put away on disk while it is read.

Law of this module: what is taken down again is what was put away; never more than a bounded number of changes is in
memory, however many there are and however many channels have them.

The file is one without a name, in the folder for temporary files (``TMPDIR`` says which), and goes with the program,
whatever becomes of that. A change takes 16 bytes there.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
from attrs import define, field, frozen

from boardgauge.traces import recording as recordings
from boardgauge.traces.errors import NoRoom
from boardgauge.traces.recording import Channel, Times, Values

if TYPE_CHECKING:
    from boardgauge.traces.growing import Growing

MOST_HELD = 1 << 20
"""So many changes of all channels are held in memory before they are put away."""
_CHANGE = 16


@frozen
class Place:
    """Where some changes of a channel lie: how far into the file, how many, and the time of the first."""

    at: int
    count: int
    first: int


@define(eq=False)
class Shelf:
    """A file for the changes of one recording. It is made when the first are put away, and gone when it is closed."""

    most: int = field(factory=lambda: MOST_HELD)
    held: int = 0
    """How many changes are in memory now, of all channels."""
    most_held: int = 0
    """How many were in memory at most."""
    put_away: int = 0
    _growing: list[Growing] = field(factory=list)
    _file: BinaryIO | None = None
    _end: int = 0

    def __enter__(self) -> Shelf:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; nothing can be taken down any more."""
        if self._file is not None:
            self._file.close()

    def enter(self, channel: Growing) -> None:
        """Take in a channel: its changes are put away when there are too many of all."""
        self._growing.append(channel)

    def grown(self, changes: int) -> None:
        """Tell that so many more changes are held now (fewer, if it is below 0)."""
        self.held += changes
        self.most_held = max(self.most_held, self.held)
        if self.held > self.most:
            self.held -= sum(channel.put_away() for channel in self._growing)

    def put(self, times: Times, values: Values) -> Place:
        """Put changes away. Raises NoRoom where there is none for them."""
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile()  # noqa: SIM115 - it is closed with the shelf
            self._file.seek(self._end)
            self._file.write(np.ascontiguousarray(times, np.int64).tobytes())
            self._file.write(np.ascontiguousarray(values, np.float64).tobytes())
            self._file.flush()
        except OSError as error:
            why = error.strerror or error
            raise NoRoom(
                f"changes of the recording cannot be put away in the folder for temporary files ({why}); "
                "TMPDIR in the environment names another folder"
            ) from None
        place = Place(self._end, len(times), int(times[0]))
        self._end += _CHANGE * len(times)
        self.put_away += len(times)
        return place

    def taken(self, place: Place, begin: int, end: int) -> tuple[Times, Values]:
        """Take down some of the changes that lie at a place."""
        assert self._file is not None
        end = min(end, place.count)
        self._file.seek(place.at + 8 * begin)
        times = np.frombuffer(self._file.read(8 * (end - begin)), np.int64)
        self._file.seek(place.at + 8 * (place.count + begin))
        return times, np.frombuffer(self._file.read(8 * (end - begin)), np.float64)


class ShelvedChannel(Channel):
    """A channel whose changes lie on a shelf. It is gone through in pieces; asked for whole, it is taken down whole."""

    __slots__ = ("_places", "_shelf", "_shift")
    _shelf: Shelf
    _places: tuple[Place, ...]
    _shift: int

    def __init__(self, name: str, shelf: Shelf, places: tuple[Place, ...], shift: int = 0) -> None:
        for own, value in (("name", name), ("_shelf", shelf), ("_places", places), ("_shift", shift)):
            object.__setattr__(self, own, value)

    @property
    def times(self) -> Times:
        """All times, in memory."""
        return np.concatenate([times for times, _ in self.pieces()])

    @property
    def values(self) -> Values:
        """All values, in memory."""
        return np.concatenate([values for _, values in self.pieces()])

    @property
    def changes(self) -> int:
        """How many changes it has."""
        return sum(place.count for place in self._places)

    def pieces(self, most: int | None = None) -> Iterator[tuple[Times, Values]]:
        """Give its changes, at most so many at a time."""
        size = most or recordings.PIECE
        for place in self._places:
            for at in range(0, place.count, size):
                times, values = self._shelf.taken(place, at, at + size)
                yield (times + self._shift if self._shift else times), values

    def named(self, name: str) -> Channel:
        """Give it under another name."""
        return ShelvedChannel(name, self._shelf, self._places, self._shift)

    def moved(self, shift: int) -> Channel:
        """Give it so many microseconds later."""
        return ShelvedChannel(self.name, self._shelf, self._places, self._shift + shift)

    def at(self, time: int) -> float:
        """Give the value at a time, NaN where it is not known."""
        before = [place for place in self._places if place.first + self._shift <= time]
        if not before:
            return float("nan")
        times, values = self._shelf.taken(before[-1], 0, before[-1].count)
        return float(values[int(np.searchsorted(times, time - self._shift, side="right")) - 1])
