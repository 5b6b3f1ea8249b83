"""A channel that grows while its file is read.

Law of this module: only changes are kept, and the arrays grow where they are, so that reading takes little more memory
than what was read.
"""

from __future__ import annotations

from array import array

import numpy as np
from attrs import define, field

from boardgauge.traces.recording import Channel, Times, Values, without_repeats


@define
class Growing:
    """The changes of one channel so far, in the order of time."""

    times: array[int] = field(factory=lambda: array("q"))
    values: array[float] = field(factory=lambda: array("d"))

    def add(self, times: Times, values: Values) -> None:
        """Add values; the times are not before those that are there, and of values at one time the last counts."""
        times, values = without_repeats(times, values)
        if not len(times):
            return
        if self.times and times[0] == self.times[-1]:
            self.times.pop()
            self.values.pop()
        before = self.values[-1] if self.values else float("nan")
        if values[0] == before or (np.isnan(values[0]) and before != before):
            times, values = times[1:], values[1:]
        self.times.frombytes(np.ascontiguousarray(times, np.int64).tobytes())
        self.values.frombytes(np.ascontiguousarray(values, np.float64).tobytes())

    @property
    def nbytes(self) -> int:
        """The memory this takes."""
        return 16 * len(self.times)

    def channel(self, name: str) -> Channel:
        """Give the channel."""
        return Channel(name, np.frombuffer(self.times, np.int64), np.frombuffer(self.values, np.float64))
