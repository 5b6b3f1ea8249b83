"""What a recorder wrote down, as values.

Law of this module: a recording is what stands in the file, on a scale of whole microseconds, and nothing is read
into it: no level is turned over, no uncertainty is added. That is the work of ``conditioning``.

A channel is a list of value changes. Its value is a float: 0.0 and 1.0 for a logic level, any number for a measured
quantity, NaN where the file says it is not known (``x``, ``z``, an empty cell, recording switched off).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
import numpy.typing as npt
from attrs import evolve, field, frozen

from boardgauge.traces.samples import Samples, samples_of

Times = npt.NDArray[np.int64]
Values = npt.NDArray[np.float64]

Format = Literal[
    "VCD",
    "wide CSV",
    "long CSV",
    "wide JSON lines",
    "long JSON lines",
    "wide Parquet",
    "long Parquet",
    "wide Arrow",
    "long Arrow",
]

MOST_TIME = 2**56
"""No time in a recording is further from zero, in microseconds: 2,283 years.

So the difference of any two times, and what uncertainty and a spec's timings add to one, stays far inside 64 bits.
"""
PIECE = 65_536
"""So many changes of a channel are gone through at once by whoever goes through them in pieces."""


@frozen(eq=False)
class Channel:
    """One channel: from ``times[i]`` (microseconds) on, its value is ``values[i]``.

    Times rise strictly and neighbouring values differ. Before the first time the value is not known.
    """

    name: str
    times: Times
    values: Values

    @property
    def changes(self) -> int:
        """How many changes it has."""
        return len(self.times)

    def pieces(self, most: int | None = None) -> Iterator[tuple[Times, Values]]:
        """Give its changes, ``most`` of them (by default ``PIECE``) at a time, in the order of time."""
        size = most or PIECE
        for at in range(0, len(self.times), size):
            yield self.times[at : at + size], self.values[at : at + size]

    @property
    def digital(self) -> bool:
        """Tell whether the channel holds logic levels only (0, 1 and not known)."""
        return all(bool(np.all((v == 0.0) | (v == 1.0) | np.isnan(v))) for _, v in self.pieces())

    def named(self, name: str) -> Channel:
        """Give it under another name."""
        return evolve(self, name=name)

    def moved(self, shift: int) -> Channel:
        """Give it so many microseconds later."""
        return evolve(self, times=self.times + shift) if shift else self

    def at(self, time: int) -> float:
        """Give the value at a time, NaN where it is not known."""
        index = int(np.searchsorted(self.times, time, side="right")) - 1
        return float(self.values[index]) if index >= 0 else float("nan")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Channel):
            return NotImplemented
        return (
            self.name == other.name
            and np.array_equal(self.times, other.times)
            and np.array_equal(self.values, other.values, equal_nan=True)
        )

    def __hash__(self) -> int:
        return hash((self.name, self.changes))


@frozen(eq=False)
class Recording:
    """A whole recording. ``start`` and ``end`` are its first and last time, in microseconds, as in the file.

    ``samples`` are the times of all rows of a sampled recording (an array given for them is folded), and None where the
    file lists changes. ``rounded``
    tells that some time in the file was finer than a microsecond: each was taken down to the whole microsecond, so a
    change lies up to one microsecond later than it says here. ``paths`` gives the channel for each full name
    (``bench.board.cc``) the file knows it by. ``sha256`` is the digest of the file as stored.
    """

    file: str
    format: Format
    start: int
    end: int
    channels: dict[str, Channel]
    samples: Samples | None = field(default=None, converter=samples_of)
    rounded: bool = False
    paths: dict[str, str] = field(factory=dict)
    sha256: str = ""

    def find(self, name: str) -> Channel | None:
        """Give the channel with this name or full name, None if there is none."""
        return self.channels.get(name) or self.channels.get(self.paths.get(name, ""))


def channel_of(name: str, times: Times, values: Values) -> Channel:
    """Make a channel from values in the order of time; of values at one time the last counts.

    Values that say the same as the one before are left out, and so is "not known" at the beginning.
    """
    times, values = without_repeats(times, values)
    if len(times) and np.isnan(values[0]):
        times, values = times[1:], values[1:]
    return Channel(name, np.ascontiguousarray(times, np.int64), np.ascontiguousarray(values, np.float64))


def without_repeats(times: Times, values: Values) -> tuple[Times, Values]:
    """Leave out values that are replaced at the same time, and those that say the same as the one before."""
    if len(times):
        last = np.empty(len(times), dtype=bool)
        last[-1] = True
        np.not_equal(times[1:], times[:-1], out=last[:-1])
        times, values = times[last], values[last]
        news = np.empty(len(times), dtype=bool)
        news[0] = True
        old, new = values[:-1], values[1:]
        news[1:] = (old != new) & ~(np.isnan(old) & np.isnan(new))
        times, values = times[news], values[news]
    return times, values
