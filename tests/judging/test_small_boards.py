"""Law: a small board that does what its spec says is never accused, however coarse its recording or late its start."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from boardgauge.judging import tracker
from small_boards import judged, life, recordings


@pytest.fixture(scope="module", autouse=True)
def _less_work() -> object:
    """Beyond a bound on the work a verdict is undecided; a low one lets more boards be tried."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tracker, "MOST_FIRINGS", 4_000)
        patch.setattr(tracker, "FIRINGS_AN_EVENT", 50)
        patch.setattr(tracker, "MOST_SUPPOSING", 2_000)
        patch.setattr(tracker, "MOST_UNSEEN", 400)
        yield


@settings(max_examples=settings().max_examples // 6, deadline=None)
@given(seed=st.integers(0, 10**6))
@example(500_323)  # what was left of a sum was shorter than the board may take to act on the input that goes on with it
def test_no_small_board_in_order_is_accused(seed: int) -> None:
    found = life(seed)
    if found is None:
        return
    for recording in recordings(found.whole, Random(seed)):
        judgement = judged(found, recording)
        assert judgement.verdict != "deviates", judgement.deviations
