"""What trials on good boards found: each was once taken for a deviation."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.judging import tracker
from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import LONG, Clock, RateMap
from boardgauge.judging.evidence import lay_out
from boardgauge.judging.judge import Judge
from boardgauge.judging.limits import Limits
from boardgauge.judging.run import Start
from boardgauge.language import read_board, read_board_text
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.recording import Channel, Recording
from boardgauge.traces.simulated import recording_of

COOLER = """
language = 1
[board]
id = "cooler"
title = "A small cooler (invented)"
tolerance = "± (4 % + 0.3 s)"
responds_within = "0.3 s"
filter = "40 ms to 150 ms"
[inputs]
call = { kind = "call" }
[rules]
rest = { kind = "delay", begins = "power_up or motor ends", lasts = "12 s", if_begun_again = "starts over" }
[outputs]
motor = { on = "call and not rest", lag = "0.1 s" }
"""


def test_a_change_undone_before_it_showed_leaves_nothing_to_show() -> None:
    """A motor on for less than its lag never shows, and neither does its going off, though a rest begins with it."""
    board = read_board_text(COOLER, "cooler.toml")
    judge = Judge.of(board)
    edges = {
        "power": ((0, 0.0), (1_000_000, 1.0)),
        "call": ((0, 0.0), (12_192_000, 1.0), (12_343_000, 0.0), (12_494_000, 1.0)),
        # On from 12.53 s for a millisecond, unseen; 11.5 s of rest; then on.
        "motor": ((0, 0.0), (24_050_000, 1.0)),
    }
    run = Simulator(judge.engine.machine, "nominal", 0).run(
        Timeline({"power": ((0, False), (1_000_000, True))}, 60_000_000)
    )
    recording = recording_of(run, board)
    channels = dict(recording.channels)
    for name, rows in edges.items():
        times, values = zip(*rows, strict=True)
        channels[name] = Channel(name, np.array(times, dtype=np.int64), np.array(values))
    judgement = judge.judge(condition(evolve(recording, channels=channels), default_wiring(board), board))
    assert judgement.verdict != "deviates", judgement.deviations


def test_a_speed_up_taken_off_as_a_timing_ends() -> None:
    """Of 30 s ± (4 % + 0.3 s) at 60 times, the earliest end is at 0.18 s by the rate that still held then."""
    board = read_board(board_path("tarnbeck"))
    judge = Judge.of(board)
    low = dict.fromkeys(("o", "cold", "warm", "j0", "j1"), ((0, False),))
    inputs = {
        **low,
        "power": ((0, False), (1, True)),
        "y": ((0, True),),
        "lps": ((0, True),),
        "hps": ((0, False), (2, True)),
        "fast": ((0, True), (180_001, False)),
    }
    run = Simulator(judge.engine.machine, "earliest", 0, engine=judge.engine).run(Timeline(inputs, 1_180_001))
    judgement = judge.judge(condition(recording_of(run, board), default_wiring(board), board))
    assert judgement.verdict == "conforms", judgement.deviations


PIECES = st.lists(st.tuples(st.integers(1, 20), st.sampled_from([1, 3, 60])), min_size=1, max_size=5)


@given(PIECES, st.integers(0, 40), st.integers(0, 300), st.integers(0, 6))
def test_a_timing_may_end_with_its_seconds_left_at_the_rate_of_the_moment(
    pieces: list[tuple[int, int]], origin: int, board_time: int, less: int
) -> None:
    """No moment at which no more than these seconds were left, at the rate then, is before the earliest end."""
    since, rows = 0, []
    for length, rate in pieces:
        rows.append((since, rate))
        since += length
    fast = RateMap.of(rows)
    clock = Clock(fast, fast)
    earliest = clock.earliest(origin, board_time, less)
    for moment in range(origin, origin + 400):
        rates = {fast.at(moment + 1) - fast.at(moment), fast.at(moment) - fast.at(moment - 1)}
        left = board_time - (fast.at(moment) - fast.at(origin))
        if left <= less * max(rates):
            assert earliest <= moment
            assert clock.most(origin, moment, less) >= board_time
            assert clock.latest_origin(moment, board_time, less) >= origin
            break
    assert earliest < LONG


@given(
    toggles=st.lists(st.integers(1, 5), max_size=5),
    began=st.integers(0, 8),
    lasted=st.integers(0, 400),
    timing=st.sampled_from(["power_up_delay", "restart_delay", "defrost_limit"]),
)
def test_what_a_timing_may_end_at_it_may_have_begun_for(
    toggles: list[int], began: int, lasted: int, timing: str
) -> None:
    """Whenever an end lies in the window of an origin, the origin lies in what is given for that end."""
    board = read_board(board_path("tarnbeck"))
    engine = Judge.of(board).engine
    at, fast, edges = 0, False, [(0, False)]
    for seconds in toggles:
        at, fast = at + seconds * 100_000, not fast
        edges.append((at, fast))
    inputs = {"power": ((0, True),), "fast": tuple(edges)}
    run = Simulator(engine.machine, "nominal", 0, engine=engine).run(Timeline(inputs, 60_000_000))
    trace = condition(recording_of(run, board), default_wiring(board), board)
    limits = Limits(engine, lay_out(engine.machine, trace, "recorded"), Answers())
    index = next(row.index for row in engine.machine.timings if row.name == timing)
    state = SimpleNamespace(config=engine.off(), rate=(1, 1))
    origin, end = began * 50_000, (began + lasted) * 50_000
    low, high = limits.window(state, index, (origin, origin))
    # Limits are rounded outwards: a microsecond further out than a board can end.
    for moment in (low + 1, min(max(end, low + 1), high - 1), high - 1):
        first, last = limits.origins(state, index, (moment, moment))
        assert first <= origin <= last


MOMENT = """
language = 1
[board]
id = "moment"
title = "Two inputs of one moment (invented)"
tolerance = "exactly"
same_moment = "0.2 s"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[outputs.q]
on = "not b"
lag = "0.5 s"
"""


@pytest.mark.parametrize("start", ["power-up", "unknown"])
def test_a_moment_longer_than_the_response_is_acted_on_when_it_is_over(start: Start) -> None:
    """Two changes 0.15 s apart are taken in together, though by the first alone the board would have acted before."""
    board = read_board_text(MOMENT, "moment.toml")
    rows = {
        "power": ((0, 1.0),),
        "a": ((0, 0.0), (550_000, 1.0)),
        "b": ((0, 0.0), (400_000, 1.0)),
        "q": ((0, 1.0), (550_000, 0.0)),
    }
    recording = Recording("moment.csv", "0" * 64, 0, 10_000_000, channels_of(rows))
    judgement = Judge.of(board).judge(condition(recording, default_wiring(board), board), start)
    assert judgement.verdict == "conforms", judgement.deviations


SHORT = """
language = 1
[board]
id = "short"
title = "A delay shorter than the response (invented)"
tolerance = "exactly"
responds_within = "1.5 s"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[rules.d]
kind = "delay"
begins = "b begins"
lasts = "0.5 s"
if_begun_again = "starts over"
[outputs.q]
on = "b"
"""


def test_a_timing_may_be_over_by_the_terminal_before_the_board_acts() -> None:
    """The board acts 1.2 s after b came on, and meanwhile a came on: a delay of 0.5 s of b is no reason against it."""
    board = read_board_text(SHORT, "short.toml")
    rows = {
        "power": ((0, 1.0),),
        "a": ((0, 0.0), (5_800_000, 1.0)),
        "b": ((0, 0.0), (5_000_000, 1.0)),
        "q": ((0, 0.0), (6_200_000, 1.0)),
    }
    recording = Recording("short.csv", "0" * 64, 0, 20_000_000, channels_of(rows))
    judgement = Judge.of(board).judge(condition(recording, default_wiring(board), board))
    assert judgement.verdict == "conforms", judgement.deviations


SLOW = SHORT.replace("1.5 s", "0.5 s").replace('lasts = "0.5 s"', 'lasts = "1 s"')


def test_what_was_under_way_at_a_start_may_show_at_the_last_moment() -> None:
    """Followed from where b came on for good: half a second later q comes on, and not a microsecond before."""
    board = read_board_text(SLOW, "slow.toml")
    rows = {
        "power": ((0, 1.0),),
        "a": ((0, 1.0), (66_755, 0.0)),
        "b": ((0, 0.0), (66_755, 1.0), (316_755, 0.0), (566_755, 1.0)),
        "q": ((0, 1.0), (66_755, 0.0), (168_105, 1.0), (634_755, 0.0), (1_066_755, 1.0)),
    }
    recording = Recording("slow.csv", "0" * 64, 0, 8_000_000, channels_of(rows))
    judgement = Judge.of(board).judge(condition(recording, default_wiring(board), board), "unknown")
    assert judgement.verdict == "conforms", judgement.deviations


FREE = """
language = 1
[board]
id = "free"
title = "A board with an input that was not recorded (invented)"
tolerance = "exactly"
responds_within = "1 s"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[rules.r]
kind = "delay"
begins = "a ends"
lasts = "2.5 s to 5.5 s"
if_begun_again = "starts over"
[outputs.q]
on = "not b"
lag = "0.5 s"
[outputs.p]
starts = "a"
stops = "r or b"
"""


def test_where_one_reading_is_given_up_the_wider_ones_are_still_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pulse of b between two samples turns both outputs off; without it the board deviates, then is lost sight of."""
    monkeypatch.setattr(tracker, "MOST_FIRINGS", 150)
    monkeypatch.setattr(tracker, "FIRINGS_AN_EVENT", 0)
    monkeypatch.setattr(tracker, "MOST_SUPPOSING", 1_000)
    board = read_board_text(FREE, "free.toml")
    samples = np.arange(0, 12_000_001, 400_000, dtype=np.int64)
    rows = {
        "power": ((0, 1.0),),
        "b": ((0, 0.0),),
        "q": ((0, 1.0), (4_000_000, 0.0), (4_400_000, 1.0)),
        "p": ((0, 1.0), (4_000_000, 0.0), (4_400_000, 1.0)),
    }
    recording = Recording("free.csv", "0" * 64, 0, 12_000_000, channels_of(rows), samples=samples)
    judgement = Judge.of(board).judge(condition(recording, default_wiring(board), board))
    assert judgement.verdict == "undecided", judgement.deviations


def channels_of(rows: dict[str, tuple[tuple[int, float], ...]]) -> dict[str, Channel]:
    """Give the channels of rows of time and value."""
    return {
        name: Channel(name, np.array([t for t, _ in row], dtype=np.int64), np.array([v for _, v in row]))
        for name, row in rows.items()
    }
