"""Columns of cells read at once: numbers, times, words, names.

Law of this module: what comes out is what each cell alone would give (``decimals``), and nothing comes out of a column
in which one cell is not plain; whoever asks goes from cell to cell then.
"""

from __future__ import annotations

from fractions import Fraction
from threading import Lock

import numpy as np
import numpy.typing as npt
from attrs import define, field, frozen

from boardgauge.traces.decimals import value_of
from boardgauge.traces.digits import MOST_DIGITS, Positions, Text, Words
from boardgauge.traces.recording import MOST_TIME, Times, Values

_POWERS = np.array([10**k for k in range(19)], dtype=np.int64)
_MINUS = ord("-")
_MOST_WORDS = 64
"""So many different words in one column of a block are looked up; more are no words."""
_LONGEST_NAME = 64
_MIX = np.uint64(0x9E3779B97F4A7C15)
_TOP = np.uint64(64 - 12)
_MOST_TURNS = 200
_AHEAD = [np.uint64(pow(int(_MIX), k, 1 << 64)) for k in range(_LONGEST_NAME // 8 + 1)]


@frozen(eq=False)
class Cells:
    """One cell a row: the text, and where each begins and ends."""

    text: Text
    starts: Positions
    ends: Positions

    def of(self, rows: npt.NDArray[np.bool_]) -> Cells:
        """Give some of the rows."""
        return Cells(self.text, self.starts[rows], self.ends[rows])

    def at(self, row: int) -> bytes:
        """Give one cell."""
        return self.text.data[self.starts[row] : self.ends[row]].tobytes()


def decimals_in(cells: Cells, point: int) -> tuple[npt.NDArray[np.int64], int] | None:
    """Read plain decimals as whole numbers, and by how many decimals all of them are to be moved; None if one is not.

    Plain is an optional minus and digits, with at most one point (the character) among them.
    """
    starts, ends = cells.starts, cells.ends
    lengths = ends - starts
    if not len(starts) or int(lengths.min()) < 1 or int(lengths.max()) > 2 * MOST_DIGITS:
        return None
    negative = cells.text.data.take(starts) == _MINUS
    signed = bool(negative.any())
    if signed:
        starts = starts + negative
        lengths = ends - starts
    places = _places(cells, starts, ends, point)
    whole = lengths - 1 - places
    part = np.maximum(places, 0)
    most = int(np.max(part))
    if int((whole + part).min()) < 1 or int(whole.max()) + most > 18:
        return None
    numbers = cells.text.whole_numbers(starts + whole, whole)
    if numbers is not None and most:
        parts = cells.text.whole_numbers(ends, np.broadcast_to(part, len(ends)))
        if parts is None:
            return None
        numbers = numbers * _POWERS[most] + (parts if isinstance(places, int) else parts * _POWERS[most - part])
    if numbers is None:
        return None
    return (np.where(negative, -numbers, numbers) if signed else numbers), most


def _places(cells: Cells, starts: Positions, ends: Positions, point: int) -> int | Positions:
    """Give how many characters stand behind the point of each cell, -1 where there is none."""
    data = cells.text.data
    first = int(ends[0])
    cell = data[int(starts[0]) : first].tobytes()
    place = len(cell) - 1 - cell.rfind(point) if point in cell else -1
    if place >= 0:
        at = ends - (1 + place)
        if (at >= starts).all() and (data.take(at) == point).all():
            return place
    elif not (data == point).any():
        return -1
    places = np.full(len(ends), -1, dtype=np.int64)
    found = 0
    for place in range(min(int((ends - starts).max()), MOST_DIGITS + 1)):
        at = ends - (1 + place)
        hit = (data.take(np.maximum(at, 0)) == point) & (at >= starts)
        places[hit] = place
        found += int(np.count_nonzero(hit))
        if found >= len(ends):
            break
    return places


def micros_in(cells: Cells, points: bytes, unit: Fraction) -> tuple[Times, bool] | None:
    """Read times: whole microseconds, rounded down, and whether one was; None if one is not plain."""
    for point in points:
        if (read := decimals_in(cells, point)) is None:
            continue
        numbers, places = read
        scale = unit / 10**places
        most = max(abs(int(numbers.min())), abs(int(numbers.max())))
        if most * scale > MOST_TIME or most * scale.numerator >= 2**62 or scale.denominator >= 2**62:
            return None
        if scale.denominator == 1:
            return numbers * scale.numerator, False
        scaled = numbers * scale.numerator
        return scaled // scale.denominator, bool(np.any(scaled % scale.denominator))
    return None


def values_in(cells: Cells, points: bytes) -> Values | None:
    """Read values, NaN for not known; None if one is not plain."""
    lengths = cells.ends - cells.starts
    if len(lengths) and int(lengths.min()) == 0:
        there = lengths > 0
        found = np.full(len(lengths), np.nan)
        if there.any():
            known = values_in(cells.of(there), points)
            if known is None:
                return None
            found[there] = known
        return found
    if int(lengths.max()) == 1:
        byte = cells.text.data.take(cells.starts)
        if ((byte >= 48) & (byte <= 57)).all():
            return (byte - 48).astype(np.float64)
    for point in points:
        read = decimals_in(cells, point)
        # The nearest float to a decimal is one division away while both are whole in floats.
        if read is not None and read[1] <= 22 and int(np.abs(read[0]).max()) <= 2**53:
            return read[0] / 10.0 ** read[1]
    return _words(cells, len(points) > 1)


def _words(cells: Cells, comma: bool) -> Values | None:
    lengths = cells.ends - cells.starts
    if int(lengths.max()) <= 8:
        keys = cells.text.keys(cells.starts, lengths)
        found = np.empty(len(keys))
        left = np.arange(len(keys))
        for _ in range(_MOST_WORDS):
            value = value_of(cells.at(int(left[0])), comma)
            if value is None:
                return None
            same = keys[left] == keys[left[0]]
            found[left[same]] = value
            left = left[~same]
            if not len(left):
                return found
    known: dict[bytes, float | None] = {}
    values: list[float] = []
    whole = cells.text.data.tobytes()
    for start, end in zip(cells.starts.tolist(), cells.ends.tolist(), strict=True):
        cell = whole[start:end]
        if cell not in known:
            known[cell] = value_of(cell, comma)
        value = known[cell]
        if value is None:
            return None
        values.append(value)
    return np.array(values, dtype=np.float64)


@define
class Names:
    """The different names met so far in a column, each with a number."""

    texts: list[bytes] = field(factory=list)
    _sums: Words = field(factory=lambda: np.empty(0, dtype=np.uint64))
    _words: list[Words] = field(factory=lambda: [np.empty(0, dtype=np.uint64) for _ in range(_LONGEST_NAME // 8)])
    _long: npt.NDArray[np.bool_] = field(factory=lambda: np.empty(0, dtype=bool))
    _lock: Lock = field(factory=Lock)
    _turn: np.uint64 = _MIX
    _table: npt.NDArray[np.int64] | None = None
    """The number of the name whose sum, turned, begins with these bits; None if no turn parts all names."""

    def numbers_in(self, cells: Cells) -> npt.NDArray[np.int64] | None:
        """Give the number of each cell's name; None where one is too long. May be called from several threads."""
        with self._lock:
            return self._numbers_in(cells)

    def _numbers_in(self, cells: Cells) -> npt.NDArray[np.int64] | None:
        lengths = cells.ends - cells.starts
        longest = int(lengths.max())
        if longest > _LONGEST_NAME:
            return None
        words = [cells.text.keys(cells.starts, np.minimum(lengths, 8))]
        for at in range(8, longest, 8):
            more = cells.text.keys(np.minimum(cells.starts + at, cells.ends), np.clip(lengths - at, 0, 8))
            words.append(more)
        sums = words[0]
        for word in words[1:]:
            sums = (sums * _MIX) ^ word
        # A short name has no further words: what mixing them in would come to.
        sums = sums * _AHEAD[len(self._words) - len(words)]
        numbers = self._found(sums)
        fresh = self._sums.take(numbers) != sums if len(self._sums) else np.ones(len(sums), dtype=bool)
        if fresh.any():
            self._learn(cells, words, sums, fresh)
            numbers = self._found(sums)
        # Two names might have one sum.
        if len(words) == 1 and self._long.any() and self._long.take(numbers).any():
            return None
        for place in range(1 if len(words) == 1 else len(self._words)):
            meant = self._words[place].take(numbers)
            if not (meant == words[place]).all() if place < len(words) else meant.any():
                return None
        return numbers

    def _found(self, sums: Words) -> npt.NDArray[np.int64]:
        """Give the number that the name with a sum has if it is known."""
        if self._table is not None:
            return self._table.take(((sums * self._turn) >> _TOP).astype(np.int64))
        order = np.argsort(self._sums)
        at = np.searchsorted(self._sums, sums, sorter=order)
        return order.take(np.minimum(at, max(len(order) - 1, 0))) if len(order) else np.zeros(len(sums), np.int64)

    def _learn(self, cells: Cells, words: list[Words], sums: Words, fresh: npt.NDArray[np.bool_]) -> None:
        rows = np.flatnonzero(fresh)
        rows = np.sort(rows[np.unique(sums[rows], return_index=True)[1]])
        self.texts += [cells.at(row) for row in rows.tolist()]
        for place in range(len(self._words)):
            more = words[place][rows] if place < len(words) else np.zeros(len(rows), dtype=np.uint64)
            self._words[place] = np.concatenate((self._words[place], more))
        self._sums = np.concatenate((self._sums, sums[rows]))
        self._long = np.any(self._words[1:], axis=0)
        self._table = None
        for turn in range(1, _MOST_TURNS):
            self._turn = np.uint64(int(_MIX) * (2 * turn + 1) % (1 << 64))
            places = ((self._sums * self._turn) >> _TOP).astype(np.int64)
            if len(np.unique(places)) == len(places):
                self._table = np.zeros(1 << 12, dtype=np.int64)
                self._table[places] = np.arange(len(places))
                break
