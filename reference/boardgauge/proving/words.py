"""Truths as bits, sixty-four to a word.

Law of this module: bit number n of a row of words is truth number n; what fills up the last word is a copy of truth
nought, so that nothing happens in it that does not happen anyway. What is alike for all is a single word.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Words = npt.NDArray[np.uint64]
Truths = npt.NDArray[np.bool_]

Places = npt.NDArray[np.intp]
Numbers = npt.NDArray[np.unsignedinteger[Any]]
_BITS = 18
_TRIES = 4

Bits = Any
"""Words of truths: an array of unsigned 64-bit integers, or one of them where all are alike."""
NO: Bits = np.uint64(0)
YES: Bits = ~np.uint64(0)


def packed(truths: Truths) -> Words:
    """Put truths (along the last axis, one at least) into words."""
    short = -truths.shape[-1] % 64
    if short:
        filling = np.broadcast_to(truths[..., :1], (*truths.shape[:-1], short))
        truths = np.concatenate((truths, filling), axis=-1)
    return np.packbits(truths, axis=-1, bitorder="little").view(np.uint64)


def unpacked(words: Bits, number: int | None = None, shape: tuple[int, ...] | None = None) -> Truths:
    """Take truths out of words; the first so many of them, all if None. What is smaller is spread over ``shape``."""
    words = np.ascontiguousarray(words if shape is None else np.broadcast_to(words, shape))
    return np.unpackbits(words.view(np.uint8), axis=-1, count=number, bitorder="little").view(np.bool_)


def any_of(rows: Iterable[Bits]) -> Bits:
    """Tell where one of several is so."""
    found: Bits = NO
    for row in rows:
        found = found | row
    return found


def looked_up(table: Numbers, numbers: Numbers) -> Numbers:
    """Give what stands in a table of small numbers at each of some others: bytes are many times as fast."""
    if table.dtype != np.uint8 or numbers.dtype != np.uint8:
        return table[numbers]
    bytes_ = numbers.tobytes().translate(table.tobytes().ljust(256, b"\0"))
    return np.frombuffer(bytes_, dtype=np.uint8).reshape(numbers.shape)


def numbered(rows: Sequence[Truths], number: int, more: npt.NDArray[np.intp] | None = None) -> tuple[Places, Places]:
    """Number the columns of a table of truths, the same for those that are alike (and have the same of ``more``); and
    give for each number one that has it."""
    varying = [row.view(np.uint8) for row in rows if row.any() and not row.all()]
    columns = np.zeros((number, -(-len(varying) // 64) * 64 // 8), dtype=np.uint8)
    for place in range(0, len(varying), 8):
        byte = varying[place].copy()
        for bit, row in enumerate(varying[place + 1 : place + 8], 1):
            byte |= row << bit
        columns[:, place // 8] = byte
    words = columns.view(np.uint64)
    if more is not None:
        words = np.concatenate((words, more[:, None].astype(np.uint64)), axis=1)
    if not number or not words.shape[1]:
        return np.zeros(number, dtype=np.intp), np.zeros(min(number, 1), dtype=np.intp)
    # Looked for by the highest bits of a sum that hardly ever are the same by chance; where they are, all is compared.
    for seed in range(_TRIES):
        factors = np.random.default_rng(seed).integers(1, 1 << 63, size=words.shape[1], dtype=np.uint64)
        sums = (((words * (factors * np.uint64(2) + np.uint64(1))).sum(axis=1)) >> np.uint64(64 - _BITS)).astype(
            np.intp
        )
        one_of = np.full(1 << _BITS, -1, dtype=np.intp)
        one_of[sums] = np.arange(number)
        if (words[one_of[sums]] == words).all():
            some = np.flatnonzero(one_of >= 0)
            ones = one_of[some]
            one_of[some] = np.arange(len(some))
            return one_of[sums], ones
    _, first, which = np.unique(words, axis=0, return_index=True, return_inverse=True)
    return which.reshape(-1).astype(np.intp), first.astype(np.intp)
