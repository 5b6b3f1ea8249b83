"""Digits of a text read eight at a time, for many numbers at once.

Law of this module: a number comes out exact or not at all; whoever asks has another, plainer way for what is not.

Eight characters are one 64-bit word, and a word of digits becomes a number in three multiplications.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from attrs import frozen

Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint64]
Positions = npt.NDArray[np.int64]

MOST_DIGITS = 16
_SPARE = 16
_U = np.uint64
_ZEROS = _U(0x3030303030303030)
_OVER_NINE = _U(0x7676767676767676)
_HIGH_BITS = _U(0x8080808080808080)
_EVEN = _U(0x000000FF000000FF)
_HUNDREDS = _U(0x000F424000000064)
_ONES = _U(0x0000271000000001)
_LAST = np.array([((1 << 64) - 1) ^ ((1 << 8 * (8 - n)) - 1) for n in range(9)], dtype=np.uint64)
"""The mask that keeps the last n of eight characters: those in the high bytes."""
_FIRST = np.array([(1 << 8 * n) - 1 for n in range(9)], dtype=np.uint64)
"""The mask that keeps the first n of eight characters."""


@frozen(eq=False)
class Text:
    """Bytes with room around them, so that eight characters can be taken from anywhere in them.

    ``data`` is the text itself; positions count from its beginning.
    """

    data: Bytes
    words: Words

    @classmethod
    def of(cls, data: bytes) -> Text:
        """Give a text of some bytes, which it copies."""
        room = np.zeros((len(data) + 2 * _SPARE + 15) // 8 * 8, dtype=np.uint8)
        room[_SPARE : _SPARE + len(data)] = np.frombuffer(data, dtype=np.uint8)
        return cls(room[_SPARE : _SPARE + len(data)], room.view("<u8"))

    def eight(self, at: Positions) -> Words:
        """Give the eight characters from each position on, the first one in the lowest byte; from -16 on."""
        at = at + _SPARE
        index = at >> 3
        shift = ((at & 7) << 3).astype(np.uint64)
        low, high = self.words.take(index), self.words.take(index + 1)
        # By one and the rest: a shift by 64 would be none.
        return (low >> shift) | ((high << _U(1)) << (_U(63) - shift))

    def keys(self, starts: Positions, lengths: Positions) -> Words:
        """Give words of up to eight characters as keys: two are equal if the characters are."""
        return self.eight(starts) & _FIRST.take(lengths)

    def whole_numbers(self, ends: Positions, lengths: Positions) -> npt.NDArray[np.int64] | None:
        """Give the numbers whose digits end before ``ends``; None if anything is no digit or longer than 16.

        A length of 0 gives 0.
        """
        if not len(ends):
            return np.zeros(0, dtype=np.int64)
        longest = int(lengths.max())
        if longest > MOST_DIGITS or int(lengths.min()) < 0:
            return None
        low, odd = _eight_digits(self.eight(ends - 8), np.minimum(lengths, 8) if longest > 8 else lengths)
        if odd:
            return None
        if longest <= 8:
            return low.astype(np.int64)
        high, odd = _eight_digits(self.eight(ends - 16), np.maximum(lengths - 8, 0))
        return None if odd else (high * _U(10**8) + low).astype(np.int64)


def _eight_digits(word: Words, lengths: Positions) -> tuple[Words, bool]:
    """Give the numbers of the last digits of each word, and whether any character among them is no digit."""
    digits = (word ^ _ZEROS) & _LAST.take(lengths)
    odd = bool(np.bitwise_or.reduce((digits + _OVER_NINE) | digits) & _HIGH_BITS)
    digits = digits * _U(10) + (digits >> _U(8))
    return ((digits & _EVEN) * _HUNDREDS + ((digits >> _U(16)) & _EVEN) * _ONES) >> _U(32), odd
