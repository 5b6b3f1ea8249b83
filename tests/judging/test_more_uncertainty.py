"""Laws: more uncertainty never turns a verdict into *deviates*; what deviates, deviates at its first provable moment;
and a trace judged in parts joined again is judged the same.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.joining import join

S = 1_000_000
QUICK = settings(max_examples=settings().max_examples // 3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
SPEC = """
language = 1
[board]
id = "rested"
title = "A motor with a rest, invented"
tolerance = "± 5 %"
responds_within = "0.1 s"
[inputs]
call = { kind = "call" }
[rules.rest]
kind = "delay"
begins = "power_up or motor ends"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.motor]
on = "call and not rest"
"""


@cache
def judge() -> Judge:
    return Judge.of(read_board_text(SPEC, "rested.toml"))


def judged(recording: Recording, skew: int = 0) -> Judgement:
    board = judge().engine.machine.board
    return judge().judge(condition(recording, evolve(default_wiring(board), skew=skew), board))


def recorded(on: int, off: int, again: int) -> Recording:
    """Give a recording of a motor that came on, went off with its call, and came on again."""
    rows = {
        "power": [(0, 0), (S, 1)],
        "call": [(0, 1), (off, 0), (off + 2 * S, 1)],
        "motor": [(0, 0), (on, 1), (off, 0), (again, 1)],
    }
    channels = {
        n: Channel(n, np.array([t for t, _ in row], np.int64), np.array([v for _, v in row], float))
        for n, row in rows.items()
    }
    return Recording("made.vcd", "VCD", 0, 60 * S, channels)


times = st.tuples(st.integers(10 * S, 12 * S), st.integers(20 * S, 22 * S), st.integers(28 * S, 34 * S))


@QUICK
@given(times=times, skews=st.tuples(st.integers(0, S), st.integers(0, S)))
def test_more_uncertainty_never_makes_it_deviate(times: tuple[int, int, int], skews: tuple[int, int]) -> None:
    less, more = (judged(recorded(*times), skew) for skew in sorted(skews))
    if less.verdict != "deviates":
        assert more.verdict != "deviates"
    if more.verdict == "deviates":
        assert less.verdict == "deviates"


@QUICK
@given(times=times)
def test_a_verdict_between_is_given_only_for_measuring_uncertainty(times: tuple[int, int, int]) -> None:
    exact, blurred = judged(recorded(*times)), judged(recorded(*times), S // 2)
    assert exact.verdict in {"conforms", "deviates"}
    if blurred.verdict == "undecided":
        assert exact.verdict == "deviates"
        assert blurred.doubts
    else:
        assert blurred.verdict == exact.verdict


@QUICK
@given(times=times)
def test_the_first_deviation_is_told_at_its_first_provable_moment(times: tuple[int, int, int]) -> None:
    """Cut off before that moment the recording does not deviate, cut off just after it, it does."""
    whole = judged(recorded(*times))
    if whole.verdict != "deviates":
        return
    moment = whole.deviations[0].time
    recording = recorded(*times)
    late = whole.deviations[0].kind in {"late", "missing"}
    assert judged(_until(recording, moment + (1 if late else 0))).verdict == "deviates"
    assert judged(_until(recording, moment - 1)).verdict != "deviates"


def _until(recording: Recording, end: int) -> Recording:
    channels = {
        n: Channel(n, c.times[c.times <= end], c.values[: int((c.times <= end).sum())])
        for n, c in recording.channels.items()
    }
    return evolve(recording, end=end, channels=channels)


@QUICK
@given(times=times, cut=st.integers(1, 59 * S))
def test_a_trace_split_and_joined_again_is_judged_the_same(times: tuple[int, int, int], cut: int) -> None:
    whole = recorded(*times)
    first, second = _until(whole, cut), _from(whole, cut)
    here, there = judged(whole).as_json(), judged(join([first, second])).as_json()
    for key in ("verdict", "deviations", "coverage", "start"):
        assert here[key] == there[key]


def _from(recording: Recording, begin: int) -> Recording:
    channels = {}
    for name, channel in recording.channels.items():
        later = channel.times > begin
        value = channel.values[int(np.searchsorted(channel.times, begin, side="right")) - 1]
        kept = np.concatenate(([begin], channel.times[later])).astype(np.int64)
        channels[name] = Channel(name, kept, np.concatenate(([value], channel.values[later])))
    return evolve(recording, start=begin, channels=channels)
