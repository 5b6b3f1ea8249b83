"""A block of a value change dump taken in at once.

Law of this module: it takes in what is plain and leaves the rest, and every complaint, to ``vcd_format``, which
goes from word to word. Nothing is kept of a block that is not taken in whole.

Plain is: time stamps; values of single bits; vectors of 0, 1, x, z; reals; the keywords around a dump of all values.
A comment, dumping switched off, a code that was not declared, a time that goes back: all that is not.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from attrs import define, field, frozen

from boardgauge.traces.decimals import floats_of, plain_decimals
from boardgauge.traces.digits import MOST_DIGITS, Text
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.vcd_header import Variable

Levels = npt.NDArray[np.int8]
"""0, 1, and -1 for x and z."""

_OTHER, _STAMP, _BIT, _LONG, _KEYWORD, _CODE = range(6)
_KIND = np.zeros(256, dtype=np.uint8)
_KIND[ord("#")] = _STAMP
_KIND[[*b"01xXzZ"]] = _BIT
_KIND[[*b"bBrRsS"]] = _LONG
_KIND[ord("$")] = _KEYWORD
LEVEL = np.full(256, -2, dtype=np.int8)
"""The level of a character, -2 for none."""
LEVEL[[*b"0"]], LEVEL[[*b"1"]], LEVEL[[*b"xXzZ"]] = 0, 1, -1
_IDLE_KEYWORDS = {b"$dumpvars", b"$dumpall", b"$dumpon", b"$end"}
_LONGEST_VECTOR = 64
WIDEST_NUMBER = 53


@frozen(eq=False)
class Piece:
    """Values of one variable in the order of the file; times in ticks.

    A single bit has ``levels`` only; others have ``numbers`` and, for those declared with a range, a column of levels
    for each bit.
    """

    times: Times
    levels: Levels
    numbers: Values | None = None


@define
class Table:
    """What the codes of a dump stand for: variables by slot, in the order of their declaration.

    ``ticks`` is how many ticks make a microsecond, 1 if a tick is that or longer.
    """

    codes: list[bytes]
    kinds: list[Variable]
    skipped: set[bytes]
    ticks: int = 1
    slots: dict[bytes, int] = field(init=False)
    single: npt.NDArray[np.bool_] = field(init=False)
    _short: npt.NDArray[np.int32] = field(init=False)
    _keys: npt.NDArray[np.uint64] = field(init=False)
    _order: npt.NDArray[np.int32] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.slots = {code: slot for slot, code in enumerate(self.codes)}
        self.single = np.array([kind.width == 1 and not kind.real for kind in self.kinds], dtype=bool)
        self._short = np.full(1 << 16, -1, dtype=np.int32)
        keys = [(int.from_bytes(code, "little"), slot) for code, slot in self.slots.items() if len(code) <= 8]
        keys += [(int.from_bytes(code, "little"), -2) for code in self.skipped - set(self.slots) if len(code) <= 8]
        for key, slot in keys:
            if key < 1 << 16:
                self._short[key] = slot
        keys.sort()
        self._keys = np.array([key for key, _ in keys] or [0], dtype=np.uint64)
        self._order = np.array([slot for _, slot in keys] or [-1], dtype=np.int32)

    def slots_of(self, text: Text, starts: Times, lengths: Times) -> npt.NDArray[np.int32] | None:
        """Give the slots of codes, -2 for those left out; None if one was not declared."""
        if not len(starts):
            return np.zeros(0, dtype=np.int32)
        longest = int(lengths.max())
        if longest > 8 or int(lengths.min()) < 1:
            return None
        if longest == 1:
            found = self._short.take(text.data.take(starts))
        elif longest == 2:
            found = self._short.take(text.keys(starts, lengths).astype(np.int64))
        else:
            keys = text.keys(starts, lengths)
            index = np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)
            found = np.where(self._keys.take(index) == keys, self._order.take(index), -1)
        return None if (found == -1).any() else np.asarray(found, dtype=np.int32)


@frozen(eq=False)
class Taken:
    """What a block holds: its first stamp (None if it has none), the last so far, and pieces by slot.

    ``rounded`` tells whether a stamp is finer than a microsecond.
    """

    first: int | None
    now: int
    pieces: list[tuple[int, Piece]]
    rounded: bool = False


def take_block(data: bytes, table: Table, now: int) -> Taken | None:
    """Take in a block that begins at the tick ``now``, between values; None if anything in it is not plain."""
    text = Text.of(data if data.endswith(b"\n") else data + b"\n")
    ends = np.flatnonzero(text.data <= 32)
    parting = text.data.take(ends)
    if not ((parting == 32) | ((parting >= 9) & (parting <= 13))).all():
        return None  # another control character parts no words
    starts = np.empty_like(ends)
    starts[0] = 0
    np.add(ends[:-1], 1, out=starts[1:])
    lengths = ends - starts
    if not lengths.all():
        full = lengths > 0
        starts, lengths = starts[full], lengths[full]
    if not len(starts):
        return Taken(None, now, [])
    heads = text.data.take(starts)
    kind = _KIND.take(heads)
    longs = _long_heads(kind, lengths)
    if longs is None:
        return None
    if not (kind != _OTHER).all():
        return None
    words = np.flatnonzero(kind == _KEYWORD)
    for start, length in zip(starts[words].tolist(), lengths[words].tolist(), strict=True):
        if data[start : start + length] not in _IDLE_KEYWORDS:
            return None
    stamps = np.flatnonzero(kind == _STAMP)
    ticks = _ticks(text, starts.take(stamps), lengths.take(stamps), now)
    if ticks is None:
        return None
    # The time that holds for each word.
    times = np.repeat(ticks, np.diff(stamps, prepend=0, append=len(starts)))
    pieces = _bits(text, table, starts, lengths, np.flatnonzero(kind == _BIT), times)
    if pieces is None:
        return None
    if len(longs):
        more = _longs(text, table, starts, lengths, longs, times)
        if more is None:
            return None
        pieces += more
    rounded = table.ticks > 1 and bool(np.any(ticks[1:] % table.ticks))
    return Taken(int(ticks[1]) if len(stamps) else None, int(ticks[-1]), pieces, rounded)


def _long_heads(kind: npt.NDArray[np.uint8], lengths: Times) -> Times | None:
    """Find the vectors and reals, and mark the words after them as their codes; None if the last code is missing."""
    index = np.flatnonzero(kind == _LONG)
    if not len(index):
        return index
    alone = lengths.take(index) < 2
    if alone.any():
        kind[index[alone]] = _OTHER
        index = index[~alone]
        if not len(index):
            return index
    # A code may look like a vector: in a run of such words every second one is a code.
    fresh = np.diff(index, prepend=-2) > 1
    if not fresh.all():
        within = np.arange(len(index)) - np.maximum.accumulate(np.where(fresh, np.arange(len(index)), 0))
        index = index[within % 2 == 0]
    if index[-1] + 1 == len(kind):
        return None
    kind[index + 1] = _CODE
    return index


def _ticks(text: Text, starts: Times, lengths: Times, now: int) -> Times | None:
    """Give the time before the first stamp and that of each; None if one is odd or goes back."""
    if len(starts) and (int(lengths.max()) > MOST_DIGITS or int(lengths.min()) < 2):
        return None
    found = text.whole_numbers(starts + lengths, lengths - 1)
    if found is None:
        return None
    ticks = np.empty(len(found) + 1, dtype=np.int64)
    ticks[0], ticks[1:] = now, found
    return None if np.any(ticks[1:] < ticks[:-1]) else ticks


def _bits(
    text: Text, table: Table, starts: Times, lengths: Times, index: Times, times: Times
) -> list[tuple[int, Piece]] | None:
    starts, lengths = starts.take(index), lengths.take(index)
    slots = table.slots_of(text, starts + 1, lengths - 1)
    if slots is None:
        return None
    levels, times = LEVEL.take(text.data.take(starts)), times.take(index)
    if len(slots) and int(slots.min()) < 0:
        kept = slots >= 0
        slots, levels, times = slots[kept], levels[kept], times[kept]
    if not table.single.all() and not table.single.take(slots).all():
        return None
    return [
        (slot, Piece(*_news(times.take(rows), levels.take(rows))))
        for slot, rows in _by_slot(slots, len(table.codes))
    ]  # fmt: skip


def _by_slot(slots: npt.NDArray[np.int32], count: int) -> list[tuple[int, Times]]:
    """Give the rows of each slot that is there, in the order of the file."""
    if not len(slots):
        return []
    # Small numbers are sorted by their digits, in linear time.
    small = slots.astype(np.uint8 if count <= 1 << 8 else np.uint16 if count <= 1 << 16 else np.int32)
    order = np.argsort(small, kind="stable")
    inside = small.take(order)
    borders = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    return list(zip(inside[np.concatenate(([0], borders))].tolist(), np.split(order, borders), strict=True))


def _news(times: Times, levels: Levels) -> tuple[Times, Levels]:
    """Leave out levels that say the same as the one before."""
    news = np.empty(len(levels), dtype=bool)
    news[0] = True
    np.not_equal(levels[1:], levels[:-1], out=news[1:])
    return (times, levels) if news.all() else (times[news], levels[news])


def _longs(
    text: Text, table: Table, starts: Times, lengths: Times, heads: Times, times: Times
) -> list[tuple[int, Piece]] | None:
    slots = table.slots_of(text, starts.take(heads + 1), lengths.take(heads + 1))
    if slots is None:
        return None
    kept = slots >= 0
    pieces: list[tuple[int, Piece]] = []
    for slot, rows in _by_slot(slots[kept], len(table.codes)):
        words = heads[kept][rows]
        if table.single[slot]:
            return None
        piece = _wide(text, table.kinds[slot], starts.take(words), lengths.take(words), times.take(words))
        if piece is None:
            return None
        pieces.append((slot, piece))
    return pieces


def _wide(text: Text, kind: Variable, starts: Times, lengths: Times, times: Times) -> Piece | None:
    heads = text.data.take(starts) | 32
    if (heads == ord("r")).all() and not kind.bits:
        numbers = _reals(text, starts + 1, starts + lengths)
        return None if numbers is None else Piece(times, np.zeros((len(times), 0), np.int8), numbers)
    if not (heads == ord("b")).all() or int(lengths.max()) > _LONGEST_VECTOR + 1:
        return None
    numbers = np.empty(len(times))
    levels = np.zeros((len(times), len(kind.bits)), dtype=np.int8)
    for length in np.unique(lengths).tolist():
        rows = np.flatnonzero(lengths == length)
        bits = LEVEL.take(text.data.take(starts.take(rows)[:, None] + np.arange(1, length)))
        if int(bits.min()) == -2:
            return None
        numbers[rows] = numbers_of(bits)
        if kind.bits:
            levels[rows] = extended(bits, kind.width)
    return Piece(times, levels, numbers)


def numbers_of(bits: Levels) -> Values:
    """Give the unsigned numbers of rows of bits, not known where a bit is not, or where they take more than 53."""
    width = bits.shape[1]
    known = (bits >= 0).all(axis=1)
    if width > WIDEST_NUMBER:
        known &= ~(bits[:, : width - WIDEST_NUMBER] == 1).any(axis=1)
    powers = 2.0 ** np.arange(width - 1, -1, -1)
    return np.where(known, np.maximum(bits, 0) @ powers, math.nan)


def extended(bits: Levels, width: int) -> Levels:
    """Extend rows of bits to the left as published: with 0 before 0 or 1, else with their first bit."""
    short = width - bits.shape[1]
    if short <= 0:
        return bits[:, -width:]
    return np.concatenate((np.repeat(np.minimum(bits[:, :1], 0), short, axis=1), bits), axis=1)


def _reals(text: Text, starts: Times, ends: Times) -> Values | None:
    read = plain_decimals(text.data, starts, ends, ord("."))
    if read is not None and (plain := floats_of(*read)) is not None:
        return plain
    found = np.empty(len(starts))
    whole = text.data.tobytes()
    for row, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        try:
            found[row] = float(whole[start:end])
        except ValueError:
            return None
        if b"_" in whole[start:end]:
            return None
    return np.where(np.isfinite(found), found, math.nan)
