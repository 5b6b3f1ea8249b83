"""Law: truths put into words come out again as they were, and what fills a word up is the first of them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.proving.words import NO, YES, any_of, packed, unpacked


@given(st.lists(st.booleans(), min_size=1, max_size=200), st.integers(1, 3))
def test_truths_come_out_of_words_as_they_were(row: list[bool], rows: int) -> None:
    """However many, in one row or in several; sixty-four to a word, the first in what is left over."""
    truths = np.array([row] * rows, dtype=bool)
    words = packed(truths)
    assert words.shape == (rows, -(-len(row) // 64))
    assert (unpacked(words, len(row)) == truths).all()
    assert (unpacked(words)[:, len(row) :] == row[0]).all()


@given(st.lists(st.lists(st.booleans(), min_size=70, max_size=70), max_size=3))
def test_one_word_stands_for_all_where_they_are_alike(rows: list[list[bool]]) -> None:
    """Of several rows the one or the other; none of none; a single word beside arrays is so everywhere."""
    columns = [packed(np.array(row, dtype=bool)) for row in rows]
    either = np.any(np.array(rows, dtype=bool).reshape(-1, 70), axis=0)
    assert (unpacked(any_of(columns), 70, (2,)) == either).all()
    assert any_of([]) == NO
    assert unpacked(any_of([*columns, YES]), 70, (2,)).all()
