"""Truths as bits, sixty-four to a word.

Law of this module: bit number n of a row of words is truth number n; what fills up the last word is a copy of truth
nought, so that nothing happens in it that does not happen anyway. What is alike for all is a single word.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

Words = npt.NDArray[np.uint64]
Truths = npt.NDArray[np.bool_]

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
