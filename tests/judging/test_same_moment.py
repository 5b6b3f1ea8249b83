"""Law: what a board may take in together it may take in as late as that, whether the other was seen or not."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from boardgauge.judging.arranging import in_moments, perhaps_together
from boardgauge.judging.columns import Changes
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.machine.inputs import PERHAPS, Change
from boardgauge.traces import Channel, Recording, condition, default_wiring

SPEC = """
language = 1
[board]
id = "small"
title = "A small board (invented)"
tolerance = "exactly"
same_moment = "0.2 s"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[rules.other]
kind = "toggle"
flips = "a ends"
[outputs.q]
on = "not b"
"""


@cache
def judge() -> Judge:
    return Judge.of(read_board_text(SPEC, "small.toml"))


@pytest.mark.parametrize(("after", "verdict"), [(34_068, "conforms"), (200_000, "conforms"), (200_001, "deviates")])
def test_an_input_that_is_not_wired_may_have_held_another_up(after: int, verdict: str) -> None:
    """b ends, and q shows it as late as if the input that nobody saw had changed within the same moment."""
    rows = {
        "power": [(0, 0), (729_954, 1)],
        "b": [(0, 0), (818_023, 1), (2_987_334, 0)],
        "q": [(0, 0), (729_954, 1), (818_023, 0), (2_987_334 + after, 1)],
    }
    channels = {
        name: Channel(name, np.array([t for t, _ in row], dtype=np.int64), np.array([v for _, v in row], dtype=float))
        for name, row in rows.items()
    }
    board = judge().engine.machine.board
    recording = Recording("small.csv", "0" * 64, 0, 9_000_000, channels)
    assert judge().judge(condition(recording, default_wiring(board), board)).verdict == verdict


CHANGES = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 60), st.integers(0, 9)), max_size=8)


@given(CHANGES, st.integers(1, 20), st.lists(st.integers(0, 25), min_size=3, max_size=3), st.sets(st.integers(0, 2)))
@example([(0, 0, 0), (1, 10, 0), (2, 20, 0)], 15, [0, 0, 0], set())
def test_what_may_be_of_one_moment_with_another_is_marked(
    rows: list[tuple[int, int, int]], same_moment: int, responds: list[int], unknown: set[int]
) -> None:
    """Where another level may change less than a moment after it, or may at any time; and only if that is later than
    the board answers."""
    changes = Changes.of([Change(level, True, early, early + width) for level, early, width in rows])
    ordered = in_moments(changes, same_moment, np.array([], dtype=np.int64))
    for change in (found := list(perhaps_together(ordered, same_moment, responds, unknown))):
        others = [other for other in found if other.level != change.level]
        near = any(o.latest > change.earliest and o.earliest < change.latest + same_moment for o in others)
        may = responds[change.level] < same_moment and (near or bool(unknown - {change.level}))
        if change.moment >= 0:
            continue
        if may:
            assert change.moment == PERHAPS
        elif not responds[change.level] < same_moment:
            assert change.moment == -1
