"""The times at which a recorder took its samples, however many, in little memory.

Law of this module: it stands for the same times as a plain array of them, to the microsecond, and answers as that
would. Regular stretches are a beginning, a step and a count; others keep their steps in as few bytes as hold them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, overload

import numpy as np
import numpy.typing as npt
from attrs import define, evolve, field, frozen

Times = npt.NDArray[np.int64]
_PIECE = 1 << 16
"""So many times at most are one irregular piece: it is unfolded when a time inside it is asked for."""


@frozen(eq=False)
class _Piece:
    """``count`` times from ``first`` to ``last``: ``least`` apart each, and ``more[i]`` on top in an irregular one."""

    first: int
    last: int
    count: int
    least: int
    most: int
    more: npt.NDArray[np.unsignedinteger[Any]] | None = None

    def times(self, begin: int = 0, end: int | None = None) -> Times:
        if self.more is None:
            end = self.count if end is None else min(end, self.count)
            return self.first + self.least * np.arange(begin, end, dtype=np.int64)
        steps = np.empty(self.count, dtype=np.int64)
        steps[0] = self.first
        np.add(self.more, self.least, out=steps[1:], dtype=np.int64, casting="unsafe")
        return np.cumsum(steps)[begin:end]


def _piece_of(times: Times) -> _Piece:
    steps = np.diff(times)
    first, last, count = int(times[0]), int(times[-1]), len(times)
    if not len(steps):
        return _Piece(first, last, count, 1, 0)
    least, most = int(steps.min()), int(steps.max())
    if least == most:
        return _Piece(first, last, count, least, most)
    return _Piece(first, last, count, least, most, (steps - least).astype(np.min_scalar_type(most - least)))


@frozen(eq=False)
class Samples:
    """Times in microseconds that rise strictly. Works as an array of them does, and unfolds into one where it must."""

    _pieces: tuple[_Piece, ...]
    _firsts: Times = field(init=False)
    _before: Times = field(init=False)
    """How many times stand before each piece, and how many there are."""

    @_firsts.default
    def _all_firsts(self) -> Times:
        return np.array([piece.first for piece in self._pieces], dtype=np.int64)

    @_before.default
    def _all_before(self) -> Times:
        return np.cumsum([0, *(piece.count for piece in self._pieces)], dtype=np.int64)

    def __len__(self) -> int:
        return int(self._before[-1])

    def __array__(self, dtype: npt.DTypeLike | None = None, copy: bool | None = None) -> npt.NDArray[Any]:
        found = np.concatenate([np.empty(0, np.int64), *(piece.times() for piece in self._pieces)])
        return found if dtype is None else found.astype(dtype)

    def __iter__(self) -> Iterator[int]:
        for times in self.pieces():
            yield from times.tolist()

    def pieces(self) -> Iterator[Times]:
        """Give the times in arrays, one after the other, none of them all of a long recording."""
        for piece in self._pieces:
            for at in range(0, piece.count, _PIECE):
                yield piece.times(at, at + _PIECE)

    def tolist(self) -> list[int]:
        """Give the times as plain numbers."""
        return list(self)

    @overload
    def __getitem__(self, key: int) -> int: ...
    @overload
    def __getitem__(self, key: slice | npt.NDArray[Any]) -> Times: ...
    def __getitem__(self, key: int | slice | npt.NDArray[Any]) -> int | Times:
        if isinstance(key, (int, np.integer)):
            index = int(key) + len(self) if key < 0 else int(key)
            if not 0 <= index < len(self):
                raise IndexError(f"there is no sample {key} among {len(self)}")
            return int(self.take(np.array([index], dtype=np.int64))[0])
        if isinstance(key, slice):
            return self.take(np.arange(*key.indices(len(self)), dtype=np.int64))
        if isinstance(key, np.ndarray) and key.dtype != np.bool_:
            return self.take(np.where(key < 0, key + len(self), key))
        return np.asarray(np.asarray(self)[key])

    def __add__(self, shift: int) -> Samples:
        return Samples(tuple(evolve(p, first=p.first + shift, last=p.last + shift) for p in self._pieces))

    def __sub__(self, shift: int) -> Samples:
        return self + -shift

    def take(self, index: npt.NDArray[np.integer[Any]]) -> Times:
        """Give the times at places counted from 0; all must be there."""
        where = np.searchsorted(self._before, index, side="right") - 1
        inside = index - self._before[where]
        found = np.empty(len(index), dtype=np.int64)
        for number in np.unique(where).tolist():
            piece, rows = self._pieces[number], where == number
            if piece.more is None:
                found[rows] = piece.first + piece.least * inside[rows]
            else:
                found[rows] = piece.times()[inside[rows]]
        return found

    def searchsorted(self, times: Times, side: Literal["left", "right"] = "left") -> Times:
        """Give how many samples stand before each time (with ``right``: before or at it)."""
        times = np.asarray(times, dtype=np.int64)
        where = np.searchsorted(self._firsts, times, side="right") - 1
        found = np.zeros(len(times), dtype=np.int64)
        for number in np.unique(where).tolist():
            if number < 0:
                continue
            piece, rows = self._pieces[number], where == number
            if piece.more is None:
                away = times[rows] - piece.first
                inside = -(-away // piece.least) if side == "left" else away // piece.least + 1
                inside = np.minimum(inside, piece.count)
            else:
                inside = np.searchsorted(piece.times(), times[rows], side=side)
            found[rows] = self._before[number] + inside
        return found

    def before(self, times: Times) -> Times:
        """Give the last sample before each time; the time itself where there is none."""
        index = self.searchsorted(times) - 1
        if not len(self):
            return times
        return np.where(index >= 0, self.take(np.maximum(index, 0)), times)

    def after(self, times: Times) -> Times:
        """Give the first sample after each time; the time itself where there is none."""
        index, count = self.searchsorted(times, "right"), len(self)
        if not count:
            return times
        return np.where(index < count, self.take(np.minimum(index, count - 1)), times)

    def next_from(self, time: int) -> int | None:
        """Give the first sample at a time or after it, None after the last."""
        index = int(self.searchsorted(np.array([time], dtype=np.int64))[0])
        return self[index] if index < len(self) else None

    @property
    def longest_gap(self) -> int:
        """The longest time between two neighbours; 0 with fewer than two."""
        between = self._between()
        return max([*(p.most for p in self._pieces if p.count > 1), *between.tolist()], default=0)

    def _between(self) -> Times:
        lasts = np.array([piece.last for piece in self._pieces[:-1]], dtype=np.int64)
        return self._firsts[1:] - lasts

    def gaps(self, longer_than: int) -> tuple[Times, Times]:
        """Give where gaps longer than this begin and end: neighbouring samples further apart."""
        begins: list[Times] = [np.empty(0, dtype=np.int64)]
        ends: list[Times] = [np.empty(0, dtype=np.int64)]
        before: int | None = None
        for piece in self._pieces:
            if before is not None and piece.first - before > longer_than:
                begins.append(np.array([before], dtype=np.int64))
                ends.append(np.array([piece.first], dtype=np.int64))
            if piece.count > 1 and piece.most > longer_than:
                times = piece.times()
                wide = np.flatnonzero(np.diff(times) > longer_than)
                begins.append(times[wide])
                ends.append(times[wide + 1])
            before = piece.last
        return np.concatenate(begins), np.concatenate(ends)

    def wide_gaps(self, longer_than: int, first: Times, last: Times) -> Times:
        """Give how many gaps longer than this reach into each stretch from ``first`` to ``last``."""
        if self.longest_gap <= longer_than:
            return np.zeros(len(first), dtype=np.int64)
        least = min([*(p.least for p in self._pieces if p.count > 1), *self._between().tolist()])
        if least > longer_than:
            # All of them are: no need to write them out.
            most = len(self) - 1
            low = np.clip(self.searchsorted(first, "right") - 1, 0, most)
            return np.clip(self.searchsorted(last), 0, most) - low
        begins, ends = self.gaps(longer_than)
        return np.searchsorted(begins, last, side="left") - np.searchsorted(ends, first, side="right")


def samples_of(times: Samples | Times | None) -> Samples | None:
    """Give the times of an array, folded; None stays None."""
    if times is None or isinstance(times, Samples):
        return times
    growing = GrowingSamples()
    growing.add(np.asarray(times, dtype=np.int64))
    return growing.samples()


@define
class GrowingSamples:
    """Sample times while they are read, a block at a time."""

    _pieces: list[_Piece] = field(factory=list)

    def add_evenly(self, step: int, count: int) -> int:
        """Add so many times, one step apart from the last one on; give the last."""
        first = self._pieces[-1].last + step
        if count > 1:
            self._pieces.append(_Piece(first, first + step * (count - 1), count, step, step))
        else:
            self.add(np.array([first], dtype=np.int64))
        return self._pieces[-1].last

    def add(self, times: Times) -> None:
        """Add times, all of them after those added before."""
        at = 0
        while at < len(times):
            at += self._add(times[at:])

    def _add(self, times: Times) -> int:
        """Add a piece of the times; give how many."""
        if self._pieces and (last := self._pieces[-1]).more is None:
            # Does the regular stretch before go on?
            step = last.least if last.count > 1 else int(times[0]) - last.first
            odd = np.flatnonzero(np.diff(times[:_PIECE], prepend=last.last) != step)
            on = int(odd[0]) if len(odd) else len(times[:_PIECE])
            # A stretch of one is worth joining to what follows only if that goes on with the same step.
            if on > (last.count == 1):
                self._pieces[-1] = _Piece(last.first, int(times[on - 1]), last.count + on, step, step)
                return on
        piece = _piece_of(times[:_PIECE])
        self._pieces.append(piece)
        return piece.count

    def samples(self) -> Samples:
        """Give what was added."""
        return Samples(tuple(self._pieces))

    def __len__(self) -> int:
        return sum(piece.count for piece in self._pieces)
