"""A channel that grows while its file is read.

Law of this module: only changes are kept, and the arrays grow where they are, so that reading takes little more memory
than what was read; with a shelf, no more than that holds in memory.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

import numpy as np
from attrs import define, field

from boardgauge.traces.recording import Channel, Times, Values, without_repeats

if TYPE_CHECKING:
    from boardgauge.traces.reduction import Ask
    from boardgauge.traces.shelf import Place, Shelf


@define
class Growing:
    """The changes of one channel so far, in the order of time.

    With ``ask``, a value that answers as the one before it is no change. With ``shelf``, all but the last changes
    are put away there when too many are held.
    """

    times: array[int] = field(factory=lambda: array("q"))
    values: array[float] = field(factory=lambda: array("d"))
    ask: Ask | None = None
    shelf: Shelf | None = None
    _places: list[Place] = field(factory=list, init=False)

    def __attrs_post_init__(self) -> None:
        if self.shelf is not None:
            self.shelf.enter(self)

    def add(self, times: Times, values: Values) -> None:
        """Add values; the times are not before those that are there, and of values at one time the last counts."""
        if self.values and not np.any(values != self.values[-1]):
            return
        if not len(times):
            return
        # Most rows say what the one before said: they go first.
        news = np.flatnonzero(values[1:] != values[:-1]) + 1
        if len(news) < len(times) // 2:
            news = np.concatenate(([0], news))
            times, values = times[news], values[news]
        times, values = without_repeats(times, values)
        held = len(self.times)
        if self.times and times[0] == self.times[-1]:
            self.times.pop()
            self.values.pop()
        if self.ask is not None:
            times, values = self._asked(self.ask, times, values)
        before = self.values[-1] if self.values else float("nan")
        if len(values) and (values[0] == before or (np.isnan(values[0]) and before != before)):
            times, values = times[1:], values[1:]
        self.times.frombytes(np.ascontiguousarray(times, np.int64).tobytes())
        self.values.frombytes(np.ascontiguousarray(values, np.float64).tobytes())
        if self.shelf is not None:
            self.shelf.grown(len(self.times) - held)

    def put_away(self) -> int:
        """Put all changes but the last two on the shelf, and give how many.

        The last may still be replaced, and the one before it then tells whether what replaces it is news.
        """
        assert self.shelf is not None
        away = max(len(self.times) - 2, 0)
        if away:
            self._places.append(self.shelf.put(np.array(self.times[:away]), np.array(self.values[:away])))
            del self.times[:away], self.values[:away]
        return away

    def _asked(self, ask: Ask, times: Times, values: Values) -> tuple[Times, Values]:
        known = bool(self.values)
        answers = ask(np.concatenate(([self.values[-1]], values)) if known else values)
        news = (answers[1:] != answers[:-1]).any(axis=1)
        if not known:
            news = np.concatenate(([True], news))
        return times[news], values[news]

    @property
    def nbytes(self) -> int:
        """What its changes take, in memory or on the shelf."""
        return 16 * (len(self.times) + sum(place.count for place in self._places))

    def channel(self, name: str) -> Channel:
        """Give the channel; nothing is added to it any more."""
        if self._places:
            from boardgauge.traces.shelf import ShelvedChannel

            assert self.shelf is not None
            if self.times:
                self._places.append(self.shelf.put(np.array(self.times), np.array(self.values)))
                self.shelf.grown(-len(self.times))
                del self.times[:], self.values[:]
            return ShelvedChannel(name, self.shelf, tuple(self._places))
        return Channel(name, np.frombuffer(self.times, np.int64), np.frombuffer(self.values, np.float64))
