"""Law: what a deviation says was seen is what the recording shows at that moment, however the recording is read."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.command.finding import find_wiring
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.language import read_board, read_board_text
from boardgauge.many.judging_one import trace_of
from boardgauge.traces import Channel, Recording, condition, default_wiring

GAP = 250_000
HEAD = 'language = 1\n[board]\nid = "small"\ntitle = "A small board (invented)"\ntolerance = "exactly"\n'
RUNS_ON = """
[inputs.a]
kind = "call"
[rules.d]
kind = "delay"
begins = "a begins"
lasts = "1.25 s to 1.5 s"
if_begun_again = "runs on"
[outputs.q]
on = "d"
"""
ONE_AFTER_ANOTHER = """
responds_within = "0.3 s"
filter = "20 ms to 50 ms"
[inputs.a]
kind = "call"
[rules.d]
kind = "delay"
begins = "a begins"
lasts = "1 s to 1.3 s"
if_begun_again = "starts over"
cut_by = "not a"
[rules.rest]
kind = "delay"
begins = "d expires"
lasts = "0.7 s exactly"
if_begun_again = "starts over"
[outputs.q]
on = "a and not rest"
lag = "0.1 s"
"""
SEEN = re.compile(r"q (still|went) (on|off) at ([0-9.]+) s")


@cache
def judge_of(text: str) -> Judge:
    return Judge.of(read_board_text(HEAD + text, "small.toml"))


def judged(text: str, a: list[int], q: list[int], sampled: bool) -> tuple[Recording, Judgement]:
    """Judge a recording of rows a quarter of a second apart, in which the supply comes on with the second."""
    judge, rows = judge_of(text), np.arange(len(a) + 1, dtype=np.int64) * GAP
    values = {"power": [0, *[1] * len(a)], "a": [a[0], *a], "q": [0, *q]}
    channels = {}
    for name, levels in values.items():
        row = np.array(levels, dtype=np.float64)
        news = np.append(True, row[1:] != row[:-1])
        channels[name] = Channel(name, rows[news], row[news])
    samples = rows if sampled else None
    recording = Recording("small.csv", "0" * 64, 0, int(rows[-1]), channels, samples=samples)
    board = judge.engine.machine.board
    return recording, judge.judge(condition(recording, default_wiring(board), board))


LEVELS = st.lists(st.integers(0, 1), min_size=4, max_size=14)


@settings(max_examples=settings().max_examples // 3, deadline=None)
@given(text=st.sampled_from([RUNS_ON, ONE_AFTER_ANOTHER]), a=LEVELS, q=LEVELS, sampled=st.booleans())
@example(text=RUNS_ON, a=[0, *[1] * 9], q=[0, *[1] * 7, 0, 0], sampled=True)
def test_a_deviation_says_what_the_recording_shows(text: str, a: list[int], q: list[int], sampled: bool) -> None:
    length = min(len(a), len(q))
    recording, judgement = judged(text, a[:length], q[:length], sampled)
    for deviation in judgement.deviations:
        said = SEEN.fullmatch(deviation.observed)
        if said is None:
            continue
        word, value, at = said[1], said[2] == "on", round(float(said[3]) * 1_000_000)
        assert shows(recording, at) is value, deviation
        if word == "went":
            assert shows(recording, at - GAP) is not value, deviation
        _in_time(deviation)


def shows(recording: Recording, time: int) -> bool:
    """Give what the recording shows of q within half a millisecond of a time, which is as fine as it is told."""
    channel = recording.channels["q"]
    return bool(channel.values[int(np.searchsorted(channel.times, time + 500, side="right")) - 1])


def _in_time(deviation: Deviation) -> None:
    """What is early came before its window, what is late had not come by its end."""
    if deviation.kind == "early":
        assert deviation.earliest is not None
        assert deviation.time < deviation.earliest, deviation
    if deviation.kind == "late":
        assert deviation.latest is not None
        assert deviation.time >= deviation.latest, deviation


def test_a_delay_that_ran_too_long_is_told_as_such() -> None:
    """No pulse that nobody saw is in the words, though none would have helped: a delay of 1.5 s at most ran 1.75 s."""
    _, judgement = judged(RUNS_ON, [0, *[1] * 9], [0, *[1] * 7, 0, 0], sampled=True)
    assert judgement.verdict == "deviates"
    first = judgement.deviations[0]
    assert (first.kind, first.rule) == ("late", "d")
    assert (first.observed, first.expected) == ("q still on at 2.000 s", "q off by 2.000 s: d 1.25 to 1.5 s")


def test_what_was_seen_is_told_where_the_record_has_it() -> None:
    """Contact bounce leaves open when a line changed: the deviation is certain from the last of it on, but what was
    seen is told by the first."""
    path = Path(str(files("boardgauge.cases").joinpath("demo", "quillmere_two_calls__restarts_too_soon.vcd")))
    board = read_board(board_path("quillmere"))
    trace = trace_of((str(path),), find_wiring(None, board, board_path("quillmere")), board)
    first = Judge.of(board).judge(trace).deviations[0]
    row = trace.waves[first.signal].recorded.tolist()
    (seen,) = re.findall(r"went on at ([0-9.]+) s", first.observed)
    assert round(float(seen) * 1_000) in [round(at / 1_000) for at in row]
    assert round(float(seen) * 1_000) < first.time // 1_000
