"""Law: truths put into words come out again as they were, and what fills a word up is the first of them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.proving.words import NO, YES, any_of, looked_up, packed, unpacked


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


@given(st.lists(st.integers(0, 299), min_size=1, max_size=300), st.lists(st.integers(0, 70_000), min_size=1), st.data())
def test_what_stands_in_a_table_is_given(table: list[int], wide: list[int], data: st.DataObject) -> None:
    """Whether the numbers fit into bytes or not, those that look and those that are found."""
    for values in (table, [value % 256 for value in table], wide):
        numbers = data.draw(st.lists(st.integers(0, len(values) - 1), max_size=20))
        kept = np.array(values, dtype=np.min_scalar_type(max(values)))
        asked = np.array(numbers, dtype=np.min_scalar_type(max(numbers, default=0)))
        assert looked_up(kept, asked).tolist() == [values[number] for number in numbers]
        assert looked_up(kept, asked.reshape(1, -1)).shape == (1, len(numbers))
