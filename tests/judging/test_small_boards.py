"""Law: a small board that does what its spec says is never accused, however coarse its recording or late its start."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.judging import tracker
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.traces import Channel, Recording
from small_boards import Life, judged, life, recordings


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
def test_no_small_board_in_order_is_accused(seed: int) -> None:
    found = life(seed)
    if found is None:
        return
    for recording in recordings(found.whole, Random(seed)):
        judgement = judged(found, recording)
        assert judgement.verdict != "deviates", judgement.deviations


SUM = """
language = 1
[board]
id = "small"
title = "A small board (invented)"
tolerance = "exactly"
responds_within = "1.5 s"
filter = "1 s to 1.5 s"
[inputs.a]
kind = "call"
[rules.sum]
kind = "accumulator"
adds_while = "a"
target = "6.5 s to 7.5 s"
[outputs.full]
on = "a and sum reached"
lag = "0.1 s"
"""


def test_what_is_left_of_a_sum_may_be_shorter_than_the_response() -> None:
    """The board acted 1.5 s after the call came back: by the terminal the sum had been reached by then, by the board's
    own counting it was reached just so."""
    rows = {
        "power": [(0, 0), (842_654, 1), (22_616_578, 0)],
        "a": [(0, 0), (5_242_654, 1), (5_305_450, 0), (6_445_698, 1), (12_550_688, 0), (17_616_578, 1)],
        "full": [(0, 0), (19_116_578, 1), (22_716_578, 0)],
    }
    channels = {
        name: Channel(name, np.array([t for t, _ in row], dtype=np.int64), np.array([v for _, v in row], dtype=float))
        for name, row in rows.items()
    }
    recording = Recording("small.csv", "0" * 64, 0, 25_000_000, channels)
    found = Life(SUM, Judge.of(read_board_text(SUM, "small.toml")), recording)
    judgement = judged(found, recording)
    assert judgement.verdict == "conforms", judgement.deviations


PAIR = """
language = 1
[board]
id = "small"
title = "A small board (invented)"
tolerance = "exactly"
responds_within = "0.5 s"
[inputs.c]
kind = "call"
[rules.r]
kind = "delay"
begins = "c changes"
lasts = "{lasts}"
if_begun_again = "runs on"
[outputs.one]
on = "r"
[outputs.other]
on = "not r"
"""


@pytest.mark.parametrize(("lasts", "verdict"), [("2 s to 3 s", "conforms"), ("3 s", "undecided"), ("5 s", "deviates")])
def test_an_output_that_was_off_by_a_sample_with_supply_says_nothing_of_when_it_went(lasts: str, verdict: str) -> None:
    """One went off by 10 s, where the supply was seen on: it went after that, and the other stayed on until then. (That
    of 3 s went off in samples 2 s apart: as it should, or up to a second too early.)"""
    rows = {
        "power": [(0, 1), (12, 0)],
        "c": [(0, 1), (8, 0)],
        "one": [(0, 0), (8, 1), (10, 0)],
        "other": [(0, 1), (8, 0), (10, 1), (12, 0)],
    }
    channels = {
        name: Channel(name, np.array([t for t, _ in row]) * 1_000_000, np.array([v for _, v in row], dtype=float))
        for name, row in rows.items()
    }
    samples = np.arange(7, dtype=np.int64) * 2_000_000
    recording = Recording("small.csv", "0" * 64, 0, 12_000_000, channels, samples=samples)
    text = PAIR.format(lasts=lasts)
    found = Life(text, Judge.of(read_board_text(text, "small.toml")), recording)
    judgement = judged(found, recording)
    assert judgement.verdict == verdict, judgement.deviations
